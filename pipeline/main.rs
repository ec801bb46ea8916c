//! witnessmark: says where the metal is, where it should be, and how much it must move.

mod cli;
mod commands;
mod job;
mod progress;
mod put_in_place;
mod record;
mod say;
mod stages;
mod timings;
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
        Command::Run { job, only } => commands::run::run(&job, only.as_deref(), cli.timings, progress),
        Command::Compare(asked) => commands::compare::compare(*asked, cli.timings, progress),
        Command::Join(asked) => commands::join::join(asked, progress),
        Command::Tape { job, readings } => commands::tape::tape(&job, readings.as_deref(), progress),
        Command::Look(asked) => commands::look::look(&asked, progress),
    }
}
