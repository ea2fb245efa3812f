//! A folder in which commands run, on a database of its own.

use std::path::PathBuf;
use std::process::{Command, Output};

/// A folder that goes with the test.
pub struct Place(pub PathBuf);

impl Place {
    /// A new folder.
    pub fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("traybook-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a folder");
        Self(path)
    }

    /// The program with arguments.
    pub fn command(&self, args: &[&str]) -> Command {
        let data = self.0.join("data");
        let mut command = Command::new(env!("CARGO_BIN_EXE_traybook"));
        command.env_clear().arg("--data").arg(data).args(args).current_dir(&self.0);
        command
    }

    /// Runs the program.
    pub fn run(&self, args: &[&str]) -> Output {
        self.command(args).output().expect("it runs")
    }

    /// Makes a co-operative.
    pub fn found(&self, more: &[&str]) {
        let found = [
            "found",
            "--name",
            "Mfano",
            "--currency",
            "TZS",
            "--zone",
            "Africa/Dar_es_Salaam",
            "--started-on",
            "2026-01-01",
            "--operator-email",
            "o@coop.example",
            "--manager-email",
            "m@coop.example",
        ];
        let done = self.run(&[&found[..], more].concat());
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    }

    /// Writes a file.
    pub fn write(&self, name: &str, text: &str) {
        let path = self.0.join(name);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        std::fs::write(path, text).expect("written");
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        drop(std::fs::remove_dir_all(&self.0));
    }
}

/// What was printed.
pub fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}
