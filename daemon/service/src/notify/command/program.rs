//! One run of a program of the operator's: fed, listened to, and ended if it takes too long.

use std::io;
use std::pin::pin;
use std::process::{ExitStatus, Stdio};
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process_group};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWriteExt};
use tokio::process::{Child, Command};
use tokio::time::timeout;

use crate::config::AlarmCommand;

/// Of what a program says on standard output, and on standard error, so many bytes are kept; the rest is read and counted.
const KEPT_BYTES: usize = 2_000;
/// A program that has ended may have left others that hold its standard output open: they are not waited for longer.
const LAST_WORDS: Duration = Duration::from_secs(1);
/// For the system to take away what was killed.
const BURIED_WITHIN: Duration = Duration::from_secs(5);

/// Why a program was not let run to its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum GaveUp {
    /// It took longer than this.
    After(Duration),
    /// The service stops.
    ForStop,
}

/// What a program said.
#[derive(Debug, Default)]
pub(super) struct Said {
    pub(super) output: Kept,
    pub(super) errors: Kept,
}

/// The beginning of what came on one stream.
#[derive(Debug, Default)]
pub(super) struct Kept {
    bytes: Vec<u8>,
    left_out: usize,
}

impl Kept {
    /// In words for the log; `None` where nothing came.
    pub(super) fn text(&self) -> Option<String> {
        let text = String::from_utf8_lossy(&self.bytes);
        match (text.trim(), self.left_out) {
            ("", 0) => None,
            (text, 0) => Some(text.to_owned()),
            (text, more) => Some(format!("{text} (and {more} bytes more)")),
        }
    }

    async fn listen(&mut self, stream: Option<impl AsyncRead + Unpin>) {
        let Some(mut stream) = stream else { return };
        let mut buffer = [0; 1024];
        while let Ok(read @ 1..) = stream.read(&mut buffer).await {
            let kept = read.min(KEPT_BYTES - self.bytes.len());
            self.bytes.extend(buffer.iter().take(kept));
            self.left_out += read - kept;
        }
    }
}

/// Runs a program without a shell, with `input` and a line's end on its standard input, until it ends or `give_up` does; in
/// that case it is killed with all that it started in its process group. Gives what it said, however it ended.
///
/// # Errors
/// With the end of a sentence that begins with the program, and what to do.
pub(super) async fn run(
    command: &AlarmCommand,
    input: &str,
    give_up: impl Future<Output = GaveUp>,
) -> (Said, Result<(), String>) {
    let mut said = Said::default();
    let started = Command::new(&command.program)
        .args(&command.arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .process_group(0)
        .kill_on_drop(true)
        .spawn();
    let mut child = match started {
        Ok(child) => child,
        Err(error) => return (said, Err(not_started(&error))),
    };
    let (stdin, stdout, stderr) = (child.stdin.take(), child.stdout.take(), child.stderr.take());
    let outcome = {
        let feed = async {
            if let Some(mut stdin) = stdin {
                // a program need not read what it is for: a siren has one tone
                let _ = stdin.write_all(format!("{input}\n").as_bytes()).await;
            }
        };
        let mut talk = pin!(async {
            tokio::join!(feed, said.output.listen(stdout), said.errors.listen(stderr));
        });
        let (mut give_up, mut talked) = (pin!(give_up), false);
        let outcome = loop {
            tokio::select! {
                status = child.wait() => break judged(status),
                gave_up = &mut give_up => {
                    kill(&mut child).await;
                    break Err(given_up(gave_up));
                }
                () = &mut talk, if !talked => talked = true,
            }
        };
        if !talked {
            let _ = timeout(LAST_WORDS, talk).await;
        }
        outcome
    };
    (said, outcome)
}

/// Ends a program that runs, and the processes of its group.
async fn kill(child: &mut Child) {
    let group = child.id().and_then(|id| i32::try_from(id).ok()).and_then(Pid::from_raw);
    if group.is_none_or(|group| kill_process_group(group, Signal::KILL).is_err()) {
        let _ = child.start_kill();
    }
    let _ = timeout(BURIED_WITHIN, child.wait()).await;
}

fn judged(status: io::Result<ExitStatus>) -> Result<(), String> {
    match status {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(format!(
            "failed ({status}): run it by hand as the service's user, with an event on standard input, and mend it"
        )),
        Err(error) => Err(format!("was started, but how it ended is not known: {error}")),
    }
}

fn given_up(gave_up: GaveUp) -> String {
    match gave_up {
        GaveUp::After(limit) => format!(
            "did not end within {} s and was killed: let it leave long work to another service and end at once",
            limit.as_secs()
        ),
        GaveUp::ForStop => "was killed, for the service stops and it did not end in time".to_owned(),
    }
}

fn not_started(error: &io::Error) -> String {
    let why = match error.kind() {
        io::ErrorKind::NotFound => {
            "there is no such program, or none that its first line names: install it, or correct `command` in [alarm]"
        }
        io::ErrorKind::PermissionDenied => {
            "the service's user may not run it: chmod +x it, and let that user into its folder"
        }
        _ => match error.raw_os_error().map(rustix::io::Errno::from_raw_os_error) {
            Some(rustix::io::Errno::NOEXEC) => {
                "no shell runs it, so a script's first line must name its interpreter, such as #!/bin/sh"
            }
            _ => return format!("cannot be started: {error}; the alarm's next repeat tries again"),
        },
    };
    format!("cannot be started: {why}")
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;

    use super::*;

    fn shell(script: &str, argument: &Path) -> AlarmCommand {
        let words = ["-c", script, &argument.display().to_string()];
        AlarmCommand { program: "/bin/sh".to_owned(), arguments: words.map(str::to_owned).into() }
    }

    fn run_it(
        command: &AlarmCommand,
        input: &str,
        give_up: impl Future<Output = GaveUp>,
    ) -> (Said, Result<(), String>) {
        tokio::runtime::Runtime::new().unwrap().block_on(run(command, input, give_up))
    }

    async fn never() -> GaveUp {
        std::future::pending().await
    }

    #[test]
    fn the_event_comes_on_standard_input_and_the_arguments_as_they_are() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("a $(name) 'to' mind");
        let command = shell("cat > \"$0\"; echo told; echo loud >&2", &place);
        let event = r#"{"id":"east-3-2027a/opening-tonight/1","message":"$HOME; `date`"}"#;
        let (said, outcome) = run_it(&command, event, never());
        assert_eq!(outcome, Ok(()));
        assert_eq!(fs::read_to_string(place).unwrap(), format!("{event}\n"));
        assert_eq!(
            (said.output.text().as_deref(), said.errors.text().as_deref()),
            (Some("told"), Some("loud"))
        );
    }

    #[test]
    fn what_takes_too_long_is_killed_with_what_it_started() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("pid");
        let command =
            shell("sleep 100000 & echo $! > \"$0.new\"; mv \"$0.new\" \"$0\"; echo ringing; wait", &place);
        let give_up = async {
            while !place.exists() {
                tokio::time::sleep(Duration::from_millis(5)).await;
            }
            GaveUp::After(Duration::from_secs(60))
        };
        let (said, outcome) = run_it(&command, "{}", give_up);
        assert!(outcome.unwrap_err().starts_with("did not end within 60 s and was killed: let it"));
        assert!(said.output.text().is_none_or(|said| said == "ringing"));
        let process = fs::read_to_string(&place).unwrap();
        // proc(5): gone, or a zombie that its new parent has yet to take away
        let lives = || {
            fs::read_to_string(format!("/proc/{}/stat", process.trim()))
                .is_ok_and(|stat| !stat.rsplit(')').next().unwrap_or_default().starts_with(" Z"))
        };
        let patience = std::time::Instant::now() + Duration::from_secs(30);
        while lives() {
            assert!(std::time::Instant::now() < patience, "process {process} lives on");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    #[test]
    fn much_talk_and_no_listening_stop_nothing() {
        let large = "x".repeat(1 << 20);
        let command = shell("head -c 300000 /dev/zero | tr '\\0' y; exit 3", Path::new("siren"));
        let (said, outcome) = run_it(&command, &large, never());
        assert!(outcome.unwrap_err().starts_with("failed (exit status: 3): run it by hand"));
        let text = said.output.text().unwrap();
        assert_eq!(text, format!("{} (and 298000 bytes more)", "y".repeat(KEPT_BYTES)));
        assert_eq!(said.errors.text(), None);
    }

    #[test]
    fn what_it_leaves_behind_is_not_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("pid");
        let command = shell("sleep 100000 & echo $! > \"$0\"; echo started", &place);
        let (said, outcome) = run_it(&command, "{}", never());
        assert_eq!((outcome, said.output.text().as_deref()), (Ok(()), Some("started")));
        let left: i32 = fs::read_to_string(place).unwrap().trim().parse().unwrap();
        // it is let live: a player of sounds may well be started so
        rustix::process::kill_process(Pid::from_raw(left).unwrap(), Signal::KILL).unwrap();
    }

    #[test]
    fn what_cannot_be_run_is_named_with_the_remedy() {
        let folder = tempfile::tempdir().unwrap();
        let (plain, bare) = (folder.path().join("plain"), folder.path().join("bare"));
        fs::write(&plain, "echo told\n").unwrap();
        fs::copy(&plain, &bare).unwrap();
        fs::set_permissions(&bare, std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();
        for (program, remedy) in [
            (folder.path().join("none"), "install it, or correct `command` in [alarm]"),
            (plain, "chmod +x it"),
            (bare, "first line must name its interpreter"),
        ] {
            let command = AlarmCommand { program: program.display().to_string(), arguments: vec![] };
            let why = run_it(&command, "{}", never()).1.unwrap_err();
            assert!(why.starts_with("cannot be started: ") && why.contains(remedy), "{why}");
        }
    }
}
