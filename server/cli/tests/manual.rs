//! Manual pages and completions, as the package carries them.

#![expect(clippy::expect_used, reason = "a test stops at the first thing that is not there")]

use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Command, Stdio};

/// Runs the program; what it prints.
fn run(args: &[&str]) -> String {
    let done = Command::new(env!("CARGO_BIN_EXE_traybook")).env_clear().args(args).output();
    let done = done.expect("it runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8_lossy(&done.stdout).into_owned()
}

/// The commands that `--help` lists.
fn commands(help: &str) -> BTreeSet<String> {
    let lines = help.lines().skip_while(|l| *l != "Commands:").skip(1);
    let listed = lines.take_while(|l| !l.is_empty());
    let first = |l: &str| l.split_whitespace().next().map(str::to_owned);
    listed.filter(|l| l.starts_with("  ") && !l.starts_with("   ")).filter_map(first).collect()
}

#[test]
fn every_command_has_its_page_and_every_shell_its_completions() {
    let folder = std::env::temp_dir().join(format!("traybook-manual-{}", std::process::id()));
    let mut all = commands(&run(&["--help"]));
    assert!(all.len() > 15 && all.remove("help"), "{all:?}");
    run(&["manual", folder.to_str().expect("plain text")]);
    let read = |name: &str| std::fs::read_to_string(folder.join(name)).expect(name);
    let shells = ["traybook.bash", "traybook.fish", "_traybook"].map(read);
    for command in &all {
        let page = read(&format!("traybook-{command}.1"));
        assert!(page.contains(".SH DESCRIPTION"), "{command}: {page}");
        for text in &shells {
            assert!(text.contains(command.as_str()), "{command}");
        }
    }
    // Options with their environment; no value of it, and no page of `help`.
    let serve = read("traybook-serve.1");
    for part in ["tls\\-certificate", "TRAYBOOK_TLS_KEY", "TRAYBOOK_BACKUP"] {
        assert!(serve.contains(part), "{part}: {serve}");
    }
    let pages = std::fs::read_dir(&folder).expect("a folder");
    let names: Vec<_> = pages.map(|e| e.expect("an entry").file_name()).collect();
    assert!(!names.iter().any(|n| n.to_string_lossy().contains("help")), "{names:?}");
    std::fs::remove_dir_all(folder).expect("removed");
}

#[test]
fn changes_and_package_are_of_this_version() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let version = env!("CARGO_PKG_VERSION");
    for (file, begins) in [
        ("server/cli/CHANGELOG.md", format!("## {version}\n")),
        ("server/cli/release/debian/changelog", format!("traybook ({version}-")),
    ] {
        let text = std::fs::read_to_string(root.join(file)).expect(file);
        let first = text.find("## ").filter(|_| begins.starts_with('#')).unwrap_or(0);
        assert!(text.get(first..).is_some_and(|t| t.starts_with(&begins)), "{file}: {begins}");
    }
}

#[test]
fn who_reads_only_the_beginning_gets_no_complaint() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_traybook"))
        .args(["openapi"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it runs");
    // More is printed than a pipe holds.
    drop(child.stdout.take());
    let done = child.wait_with_output().expect("it ends");
    assert_eq!(String::from_utf8_lossy(&done.stderr), "");
    assert_eq!(done.status.code(), Some(141));
}
