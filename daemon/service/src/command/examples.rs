//! An example of every command and of every action of it, for `--help` and the manual pages. What is shown here is read by the command line
//! itself in a check.

use clap::Command;

/// Words that follow `anthesisd`, by the command and the action that they are an example of.
const EXAMPLES: [(&str, &str); 45] = [
    ("run", "run"),
    ("status", "status east-3"),
    ("check", "check"),
    ("replay", "replay east-3.jsonl"),
    ("import", "import --bench east-3 --dry-run heights.csv"),
    ("export", "export east-3 --csv --quantity humidity > humidity.csv"),
    ("review", "review east-3 --from 2027-05-01 --to 2027-05-08"),
    ("backup", "backup saltmarsh.db"),
    ("restore", "restore saltmarsh.db"),
    ("tape", "tape east-3 187 cm --at \"yesterday 18:00\""),
    ("sign", "sign east-3 bract-dropped --at \"20 minutes ago\""),
    ("plant", "plant AT-0412"),
    ("plant add", "plant AT-0412 add --taxon \"Amorphophallus titanum\" --from \"seed of 2014\""),
    ("plant weighed", "plant AT-0412 weighed 31.2 kg"),
    ("plant repotted", "plant AT-0412 repotted --pot 120"),
    ("plant dormant", "plant AT-0412 dormant"),
    ("plant in-leaf", "plant AT-0412 in-leaf"),
    ("plant gone", "plant AT-0412 gone --note \"to another garden\""),
    ("pollen", "pollen"),
    ("pollen collected", "pollen east-3 collected 6 --stored -80"),
    ("pollen received", "pollen AT-0398 received 3 --collected \"2027-06-02 20:00\" --stored -112F"),
    ("pollen stored", "pollen AT-0398-2027a stored 4 --place refrigerator"),
    ("pollen thawed", "pollen AT-0398-2027a thawed 2"),
    ("pollen tested", "pollen AT-0398-2027a tested 41"),
    ("pollen discarded", "pollen AT-0398-2027a discarded"),
    ("cross", "cross east-3 AT-0398-2027a --flowers \"all round\""),
    ("fruit", "fruit east-3"),
    ("fruit set", "fruit east-3 set 420"),
    ("fruit colour", "fruit east-3 colour red --part top"),
    ("fruit lost", "fruit east-3 lost 12 --note \"rot at the base\""),
    ("fruit ripe", "fruit east-3 ripe"),
    ("fruit harvested", "fruit east-3 harvested 408"),
    ("fruit seeds", "fruit east-3 seeds 640"),
    ("fruit sown", "fruit east-3 sown 640"),
    ("fruit germinated", "fruit east-3 germinated 90 --albino 2"),
    ("tonight", "tonight east-3"),
    ("book history", "book history AT-0412"),
    ("book overlap", "book overlap"),
    ("book blooms", "book blooms east-3"),
    ("book calendar", "book calendar > saltmarsh.ics"),
    ("book export", "book export > book.jsonl"),
    ("book import", "book import book.jsonl"),
    ("book withdraw", "book withdraw 12"),
    ("acknowledge", "acknowledge east-3-2027a/opening-tonight/1 --by ann"),
    ("alarm-test", "alarm-test"),
];

/// The commands, each with its example below its help.
pub(super) fn shown_in(mut definition: Command) -> Command {
    for (of, words) in EXAMPLES {
        let example = format!("Example: anthesisd {words}");
        definition = match of.split_once(' ') {
            Some((command, action)) => definition.mut_subcommand(command, |command| {
                command.mut_subcommand(action, |action| action.after_help(example))
            }),
            None => definition.mut_subcommand(of, |command| command.after_help(example)),
        };
    }
    definition
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As a shell parts them: quoted words stay together, and what goes to a file is none of the program's.
    fn words(example: &str) -> Vec<String> {
        let mine = example.split(" > ").next().unwrap_or_default();
        let parts = mine.split('"').enumerate();
        parts
            .flat_map(|(place, part)| match place % 2 {
                0 => part.split_whitespace().map(str::to_owned).collect(),
                _ => vec![part.to_owned()],
            })
            .collect()
    }

    #[test]
    fn every_command_and_every_action_has_an_example_that_is_read() {
        let definition = super::super::definition();
        for command in definition.get_subcommands() {
            let actions = command
                .get_subcommands()
                .map(|action| (format!("{} {}", command.get_name(), action.get_name()), action));
            let has_itself = !command.is_subcommand_required_set();
            let itself = has_itself.then(|| (command.get_name().to_owned(), command));
            for (name, of) in itself.into_iter().chain(actions) {
                // it reads a password, and nothing can be typed to it
                if name != "page-password" {
                    assert!(of.get_after_help().is_some(), "{name} has no example");
                }
            }
        }
        for (of, example) in EXAMPLES {
            let read = definition
                .clone()
                .try_get_matches_from([vec!["anthesisd".to_owned()], words(example)].concat());
            assert!(read.is_ok(), "{of}: {example}: {read:?}");
            let mut matches = &read.unwrap();
            for name in of.split(' ') {
                assert_eq!(matches.subcommand_name(), Some(name), "{example}");
                matches = matches.subcommand().unwrap().1;
            }
        }
    }
}
