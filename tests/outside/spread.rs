//! The README's example for many jobs, run as it stands there, by GNU parallel (Tange 2011, "GNU Parallel: The
//! Command-Line Power Tool", ;login: 36).

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::SystemTime;

use crate::shop::{Shop, read_result};
use crate::small_job;

const HEADING: &str = "### Thousands of jobs, many machines\n";

/// What the README has to be typed.
fn example() -> String {
    let readme = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let (_, section) = readme
        .split_once(HEADING)
        .expect("the README's section on many jobs");
    let (section, _) = section.split_once("\n## ").expect("a section after it");
    let (_, block) = section.split_once("```sh\n").expect("an example to type");
    block
        .split_once("```")
        .expect("the end of the example")
        .0
        .to_string()
}

/// Types it in the shop's folder, where the built program is the one on the path.
fn typed(shop: &Shop, words: &str) -> Output {
    let scheduler = Command::new("parallel").arg("--version").output().expect(
        "GNU parallel is not there, and the README's example is run by it: install it (apt-get install parallel)",
    );
    assert!(
        String::from_utf8_lossy(&scheduler.stdout).contains("GNU parallel"),
        "another program is called parallel here: install GNU parallel"
    );
    let built = Path::new(env!("CARGO_BIN_EXE_witnessmark")).parent().unwrap();
    let others = std::env::var_os("PATH").unwrap_or_default();
    let path =
        std::env::join_paths(std::iter::once(built.to_path_buf()).chain(std::env::split_paths(&others)))
            .unwrap();
    // A home of its own: as on a machine where parallel is used for the first time.
    let home = shop.path("home");
    fs::create_dir_all(&home).unwrap();
    Command::new("sh")
        .args(["-c", words])
        .current_dir(shop.path(""))
        .env("PATH", path)
        .env("HOME", home)
        .output()
        .unwrap()
}

/// Exit value and command of every job in parallel's log.
fn logged(shop: &Shop) -> Vec<(i32, String)> {
    let text = fs::read_to_string(shop.path("joblog")).unwrap();
    let row = |line: &str| {
        let columns: Vec<&str> = line.split('\t').collect();
        (columns[6].parse::<i32>().unwrap(), columns[8].to_string())
    };
    text.lines().skip(1).map(row).collect()
}

/// Every file of a job's results with its bytes.
fn made(shop: &Shop, name: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    let mut folders = vec![shop.path(&format!("shells/{name}/results"))];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let bytes = fs::read(&path).unwrap();
                found.push((path, bytes));
            }
        }
    }
    found.sort();
    found
}

fn result_of(shop: &Shop, name: &str) -> PathBuf {
    shop.path(&format!("shells/{name}/results/look 0"))
}

fn when(shop: &Shop, name: &str) -> SystemTime {
    let result = result_of(shop, name).join("result.json");
    fs::metadata(result).unwrap().modified().unwrap()
}

fn told(shop: &Shop, name: &str) -> String {
    fs::read_to_string(shop.path(&format!("shells/{name}/run.txt"))).unwrap()
}

fn words_of(output: &Output) -> String {
    format!("{:?}: {}", output.status, String::from_utf8_lossy(&output.stderr))
}

#[test]
fn the_worked_example_of_the_readme_works() {
    let shop = Shop::new();
    let mut names: Vec<String> = (1..12).map(|k| format!("shell {k:02}")).collect();
    names.push("joe's $5 shell".to_string());
    for name in &names {
        small_job::write(&shop, &format!("shells/{name}"), &["look 0"]);
    }
    small_job::write(&shop, "shells/shell 01", &["look 0", "look 1"]);
    let words = example();

    // Metal is off in every job, which is no failure of the run.
    let first = typed(&shop, &words);
    assert!(first.status.success(), "{}", words_of(&first));
    let log = logged(&shop);
    assert_eq!(log.len(), 12, "{log:?}");
    assert!(log.iter().all(|(exit, _)| *exit == 0), "{log:?}");
    for name in &names {
        let result = read_result(&result_of(&shop, name));
        assert_eq!(result["verdict"], "outside", "{name}");
        assert!(told(&shop, name).contains("right floor"), "{name}");
    }

    let before: Vec<_> = names
        .iter()
        .map(|name| (made(&shop, name), when(&shop, name)))
        .collect();
    let second = typed(&shop, &words);
    assert!(second.status.success(), "{}", words_of(&second));
    assert_eq!(logged(&shop).len(), 12);
    for (name, (files, time)) in names.iter().zip(&before) {
        assert!(made(&shop, name) == *files, "{name} has other bytes");
        assert_eq!(when(&shop, name), *time, "{name} was made again");
    }
    let summary = told(&shop, "shell 01");
    assert_eq!(summary.matches("(unchanged)").count(), 2, "{summary}");

    one_that_fails_is_told_and_taken_up(&shop, &words);
}

/// One job of the shop has a job file that says nothing to do, and one has lost its results.
fn one_that_fails_is_told_and_taken_up(shop: &Shop, words: &str) {
    shop.write("shells/broken/job.toml", "name = \"x\"\n");
    let lost = made(shop, "shell 03");
    fs::remove_dir_all(shop.path("shells/shell 03/results")).unwrap();
    let third = typed(shop, words);
    assert_eq!(third.status.code(), Some(1), "{}", words_of(&third));
    let log = logged(shop);
    assert_eq!(log.len(), 13, "{log:?}");
    let failed: Vec<_> = log.iter().filter(|(exit, _)| *exit != 0).collect();
    assert_eq!(failed.len(), 1, "{failed:?}");
    assert!(failed[0].1.contains("shells/broken/"), "{failed:?}");
    assert!(told(shop, "broken").contains("job.toml"));
    assert!(made(shop, "shell 03") == lost, "the others are done all the same");

    // As the README says of --resume-failed: only what failed is started again.
    small_job::write(shop, "shells/broken", &["look 0"]);
    let resumed = words.replace("--joblog", "--resume-failed --joblog");
    let fourth = typed(shop, &resumed);
    assert!(fourth.status.success(), "{}", words_of(&fourth));
    let log = logged(shop);
    assert_eq!(log.len(), 14, "{log:?}");
    let (exit, command) = &log[13];
    assert!(*exit == 0 && command.contains("shells/broken/"), "{log:?}");
    assert_eq!(read_result(&result_of(shop, "broken"))["verdict"], "outside");
}
