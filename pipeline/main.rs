//! witnessmark: says where the metal is, where it should be, and how much it must move.

mod batch;
mod cli;
mod clock;
mod commands;
mod fill;
mod job;
#[cfg(test)]
mod made;
mod made_from;
mod progress;
mod put_in_place;
mod received;
mod say;
mod sealed;
mod stages;
mod timings;
mod trips;
mod trouble;
mod work;

use std::process::ExitCode;

use cli::{Cli, Command};
use progress::Progress;
use trouble::Trouble;

fn main() -> ExitCode {
    let cli = Cli::parse_or_exit();
    let progress = Progress::new(cli.quiet);
    match run(cli, &progress) {
        Ok(code) => ExitCode::from(code),
        Err(trouble) => {
            progress.trouble(&trouble);
            ExitCode::from(trouble::COULD_NOT)
        }
    }
}

fn run(cli: Cli, progress: &Progress) -> Result<u8, Trouble> {
    if let Some(threads) = cli.threads {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build_global()
            .map_err(|e| Trouble::system("starting the threads", &e))?;
    }
    match cli.command {
        Command::Demo { folder } => commands::demo::demo(&folder, cli.timings, progress),
        Command::Start { folder } => commands::start::start(&folder, progress),
        Command::Take(asked) => commands::take::take(&asked, progress),
        Command::Run(asked) => commands::run::run(&asked, cli.timings, progress),
        Command::Compare(asked) => commands::compare::compare(*asked, cli.timings, progress),
        Command::Join(asked) => commands::join::join(asked, progress),
        Command::Tape { job, readings } => commands::tape::tape(&job, readings.as_deref(), progress),
        Command::Log(asked) => commands::log::log(&asked, progress),
        Command::Trips { job } => commands::trips::trips(&job, progress),
        Command::Page { job, of } => commands::page::page(&job, of.as_deref(), progress),
        Command::Seal { job, out } => commands::seal::seal(&job, &out, progress),
        Command::Recheck { bag, rerun } => commands::recheck::recheck(&bag, rerun, progress),
        Command::Unseal { bag, out, damaged } => commands::unseal::unseal(&bag, &out, damaged, progress),
        Command::Look(asked) => commands::look::look(&asked, progress),
    }
}
