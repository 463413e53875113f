//! Commands that key, with a shell that plays them.

use spurline_clock::{Pace, run};

use super::*;

fn words(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

/// Commands over a file that is there while the key is down.
fn commands(name: &str) -> (KeyCommands, std::path::PathBuf) {
    let file = std::env::temp_dir().join(format!("spurline-{name}-{}", std::process::id()));
    drop(std::fs::remove_file(&file));
    let path = file.display();
    let commands = KeyCommands {
        down: words(&["/bin/sh", "-c", &format!("touch {path}")]),
        up: words(&["/bin/sh", "-c", &format!("rm -f {path}")]),
        state: Some(words(&["/bin/sh", "-c", &format!("test -e {path} && echo down || echo up")])),
        within: Duration::from_secs(2),
    };
    (commands, file)
}

#[test]
fn they_key() {
    let (commands, file) = commands("they-key");
    run(Pace::Real, |clock| async move {
        let mut line = CommandLine::new(commands.clone(), clock);
        line.arm().await.unwrap();
        line.ready().await.unwrap();
        line.down().await.unwrap();
        assert!(file.exists());
        line.hold().await.unwrap();
        line.up().await.unwrap();
        assert!(!file.exists());
        assert!(line.hold().await.unwrap_err().to_string().contains("expected to print `down`"));
    })
    .unwrap();
}

#[test]
fn one_that_fails_or_hangs_is_ended_with_all_that_it_started() {
    let (mut commands, file) = commands("hangs");
    commands.within = Duration::from_millis(300);
    run(Pace::Real, |clock| async move {
        commands.down = words(&["/bin/sh", "-c", &format!("(sleep 1; touch {}) & sleep 5", file.display())]);
        let began = clock.now();
        let fault = CommandLine::new(commands.clone(), clock).down().await.unwrap_err().to_string();
        assert!(fault.ends_with("did not end within 0.3 s"), "{fault}");
        assert!(clock.now().since(began) < Duration::from_millis(900));
        clock.sleep(Duration::from_millis(1200)).await;
        assert!(!file.exists(), "what it started went on");
        commands.down = words(&["/bin/sh", "-c", "exit 3"]);
        let fault = CommandLine::new(commands.clone(), clock).down().await.unwrap_err().to_string();
        assert!(fault.contains("exit status: 3"), "{fault}");
        commands.down = words(&["/nonexistent/key"]);
        let fault = CommandLine::new(commands, clock).down().await.unwrap_err();
        assert!(fault.to_string().ends_with("cannot be started") && fault.is_of_the_key_line(), "{fault}");
    })
    .unwrap();
}
