//! Manual pages and completions are made from the one definition of the commands, from the sample configuration, and from what HANDBOOK.md
//! and GROWER.md say of messages and warnings; the description of what programs can ask of the page from what answers them. Where a committed file differs, it is made anew by
//!
//!     ANTHESISD_WRITE=1 cargo test -p end-to-end --test running installing::manual

use std::collections::BTreeMap;
use std::fs;

use clap::Command;
use clap_complete::Shell;
use clap_mangen::Man;
use clap_mangen::roff::{Inline, Roff, bold, roman};
use end_to_end::markdown::{before_list, entries, rows, section, without_links};

use super::{file, text};

/// Every generated file by its name under `deploy`.
fn generated() -> BTreeMap<String, String> {
    let mut files = BTreeMap::new();
    let definition = anthesisd::command::definition();
    pages(definition.clone(), &mut files);
    let rehearse = rehearsal::definition().name("anthesisd-rehearse").display_name("anthesisd-rehearse");
    let page = Man::new(rehearse).section("8").manual("anthesisd");
    let example = "anthesisd-rehearse --broker mqtt://127.0.0.1:1883 --warnings intake-down";
    let mut more = Roff::new();
    more.control("SH", ["EXAMPLE"]).text([roman(example)]);
    files.insert(
        "manual/anthesisd-rehearse.8".to_owned(),
        render(&page, false, &format!("{}{}", more.to_roff(), also(&["anthesisd(8)"]))),
    );
    files.insert("manual/anthesisd.toml.5".to_owned(), configuration());
    let description = serde_json::to_string_pretty(&anthesisd::page::description()).unwrap();
    files.insert("openapi.json".to_owned(), description + "\n");
    for (shell, name) in
        [(Shell::Bash, "anthesisd.bash"), (Shell::Zsh, "_anthesisd"), (Shell::Fish, "anthesisd.fish")]
    {
        let mut script = Vec::new();
        clap_complete::generate(shell, &mut definition.clone(), "anthesisd", &mut script);
        files.insert(format!("completions/{name}"), String::from_utf8(script).unwrap());
    }
    files
}

/// anthesisd(8), and a page for each command.
fn pages(mut definition: Command, files: &mut BTreeMap<String, String>) {
    definition = definition.disable_help_subcommand(true);
    definition.build();
    for command in definition.get_subcommands() {
        // clap keeps names for good
        let name: &'static str = Box::leak(format!("anthesisd-{}", command.get_name()).into_boxed_str());
        let page = Man::new(command.clone().name(name).display_name(name)).section("8").manual("anthesisd");
        files.insert(
            format!("manual/{name}.8"),
            render(
                &page,
                false,
                &format!("{}{}", actions(command), also(&["anthesisd(8)", "anthesisd.toml(5)"])),
            ),
        );
    }
    let names = definition.get_subcommands().map(|command| format!("anthesisd-{}(8)", command.get_name()));
    let others = ["anthesisd-rehearse(8)", "anthesisd.toml(5)"].map(str::to_owned);
    let others: Vec<String> = names.chain(others).collect();
    let others: Vec<&str> = others.iter().map(String::as_str).collect();
    let page = Man::new(definition.clone()).section("8").manual("anthesisd");
    files.insert(
        "manual/anthesisd.8".to_owned(),
        render(&page, true, &format!("{}{}", around(), also(&others))),
    );
}

/// Each action of a command with what it takes and an example, and the command's own example.
fn actions(command: &Command) -> String {
    let mut page = Roff::new();
    if command.has_subcommands() {
        page.control("SH", ["ACTIONS"]);
    }
    for action in command.get_subcommands() {
        let takes = action.get_positionals().map(|taken| {
            let name = taken.get_id().as_str().to_uppercase();
            if taken.is_required_set() { name } else { format!("[{name}]") }
        });
        let takes: Vec<String> = std::iter::once(action.get_name().to_owned()).chain(takes).collect();
        page.control("TP", []).text([bold(takes.join(" "))]);
        page.text([roman(format!("{}.", action.get_about().cloned().unwrap_or_default()))]);
        // options that every action knows stand above
        for option in action.get_opts().filter(|option| !option.is_global_set()) {
            let long = option.get_long().unwrap_or_default();
            let help = option.get_help().cloned().unwrap_or_default();
            page.control("br", []).text([bold(format!("--{long}")), roman(format!(": {help}."))]);
        }
        if let Some(example) = action.get_after_help() {
            page.control("br", []).text([roman(example.to_string())]);
        }
    }
    if let Some(example) = command.get_after_help() {
        page.control("SH", ["EXAMPLE"]).text([roman(example.to_string().replacen("Example: ", "", 1))]);
    }
    page.to_roff()
}

fn render(page: &Man, with_commands: bool, more: &str) -> String {
    let mut rendered = Vec::new();
    page.render_title(&mut rendered).unwrap();
    page.render_name_section(&mut rendered).unwrap();
    page.render_synopsis_section(&mut rendered).unwrap();
    page.render_description_section(&mut rendered).unwrap();
    page.render_options_section(&mut rendered).unwrap();
    if with_commands {
        page.render_subcommands_section(&mut rendered).unwrap();
    }
    String::from_utf8(rendered).unwrap() + more
}

/// What a command line does not tell of itself.
fn around() -> String {
    let mut page = Roff::new();
    let listed = |page: &mut Roff, entries: &[(&str, &str)]| {
        for (name, words) in entries {
            page.control("TP", []).text([bold(*name)]).text([roman(*words)]);
        }
    };
    messages(&mut page);
    page.control("SH", ["EXIT STATUS"]);
    listed(
        &mut page,
        &[
            ("0", "Done."),
            ("1", "Failed; standard error says why."),
            ("2", "Wrong usage."),
            ("78", "Wrong configuration, or a store of a newer version: starting again does not help."),
        ],
    );
    page.control("SH", ["FILES"]);
    listed(
        &mut page,
        &[
            ("/etc/anthesisd/anthesisd.toml", "The configuration, see anthesisd.toml(5)."),
            ("/etc/anthesisd/profiles/NAME.toml", "Profiles of plants that go before the built-in ones."),
            ("/var/lib/anthesisd/anthesisd.db", "The record, for the service's own user alone."),
            ("/usr/share/doc/anthesisd/README.md", "What it does, the first start, the phone."),
            (
                "/usr/share/doc/anthesisd/HANDBOOK.md",
                "Day by day: what to type, the bloom book, what the messages mean, the page.",
            ),
            (
                "/usr/share/doc/anthesisd/GROWER.md",
                "In the house: what to hang where, a rehearsal, backup and restore.",
            ),
            (
                "/usr/share/doc/anthesisd/PROGRAMS.md",
                "For programs: every MQTT topic, and every figure at /metrics.",
            ),
        ],
    );
    page.control("SH", ["ENVIRONMENT"]);
    listed(
        &mut page,
        &[("ANTHESISD_LOG", "What is logged to standard error, such as debug; info unless set.")],
    );
    page.render()
}

/// What it says and what to do, as HANDBOOK.md and GROWER.md have it.
fn messages(page: &mut Roff) {
    let (handbook, grower) = (text("deploy/HANDBOOK.md"), text("deploy/GROWER.md"));
    // names are not parted at the end of a line, so that they can be searched for
    page.control("nh", []).control("SH", ["MESSAGES"]);
    for row in rows(section(&handbook, "What the messages mean")) {
        let [names, comes_as, what_to_do] = row[..] else { panic!("three columns, not {row:?}") };
        page.control("TP", []).text([bold(names.replace('`', "")), roman(format!(" ({comes_as})"))]);
        page.text(words(what_to_do));
    }
    let warnings = section(&grower, "When a warning comes");
    page.control("SH", ["WHEN A WARNING COMES"]).text(words(&before_list(warnings)));
    for (name, what_to_do) in entries(warnings) {
        page.control("TP", []).text([bold(name)]).text(words(&what_to_do));
    }
}

/// What is bold or code in a document is bold here.
fn words(text: &str) -> Vec<Inline> {
    let text = without_links(text).replace("**", "`");
    let parts = text.split('`').enumerate();
    parts.map(|(place, part)| if place % 2 == 0 { roman(part) } else { bold(part) }).collect()
}

fn also(pages: &[&str]) -> String {
    let mut page = Roff::new();
    page.control("SH", ["SEE ALSO"]).text([roman(pages.join(", "))]);
    page.to_roff()
}

/// anthesisd.toml(5): the sample, which explains each of its keys.
fn configuration() -> String {
    let mut page = Roff::new();
    page.control("TH", ["anthesisd.toml", "5", "", "anthesisd", "anthesisd"]);
    page.control("SH", ["NAME"]);
    page.text([roman("anthesisd.toml - the configuration of anthesisd: one glass-house")]);
    page.control("SH", ["SYNOPSIS"]).text([roman("/etc/anthesisd/anthesisd.toml")]);
    page.control("SH", ["DESCRIPTION"]).text([roman(
        "A file in TOML. It is refused as a whole, with every mistake named by line, before anything starts: anthesisd check \
         tells them and tries all that the file names. A key that is not known is a mistake. Secrets stand in files of their \
         own, one line each, that nobody but the service's user may read: others are refused. The sample says it all:",
    )]);
    page.control("PP", []).control("EX", []);
    let sample = text("config/anthesisd.toml");
    let mut out = page.to_roff();
    for line in sample.lines() {
        // a line that begins with a dot or an apostrophe would be an order to the formatter
        let line = line.replace('\\', "\\e").replace('-', "\\-");
        out.push_str(if line.starts_with(['.', '\'']) { "\\&" } else { "" });
        out.push_str(&line);
        out.push('\n');
    }
    out + ".EE\n" + &also(&["anthesisd(8)"])
}

#[test]
fn what_is_made_from_the_code_is_as_the_code_is() {
    let write = std::env::var_os("ANTHESISD_WRITE").is_some();
    let generated = generated();
    for (name, wanted) in &generated {
        let path = file("deploy").join(name);
        if write {
            fs::write(&path, wanted).unwrap();
        }
        let found = fs::read_to_string(&path).unwrap_or_default();
        let first = found.lines().zip(wanted.lines()).find(|(found, wanted)| found != wanted);
        assert!(
            found == *wanted,
            "deploy/{name} is not as the code is (first: {first:?}); make it anew with ANTHESISD_WRITE=1"
        );
    }
    for folder in ["manual", "completions"] {
        for entry in fs::read_dir(file("deploy").join(folder)).unwrap() {
            let name = format!("{folder}/{}", entry.unwrap().file_name().to_string_lossy());
            assert!(generated.contains_key(&name), "deploy/{name} is made from nothing: remove it");
        }
    }
}
