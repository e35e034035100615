//! Figures and times as people type them, at the real commands.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use end_to_end::house::{House, said};

fn out(house: &House, arguments: &[&str]) -> String {
    let output = house.run(arguments);
    assert!(output.status.success(), "{arguments:?}: {}", said(&output));
    String::from_utf8(output.stdout).expect("results are text")
}

/// A house whose store is there.
fn house(units: &str) -> House {
    let house = House::new().with_bench("east-3");
    let config = house.config();
    let text = std::fs::read_to_string(&config).expect("a configuration");
    let text = text.replace("[site]\n", &format!("[site]\nunits = \"{units}\"\n"));
    std::fs::write(&config, text).expect("it can be written");
    house
}

fn run(house: &House, arguments: &[&str]) -> std::process::Output {
    let mut command = end_to_end::house::anthesisd();
    command.arg("--config").arg(house.path("anthesisd.toml")).args(arguments);
    command.output().expect("the binary starts")
}

#[test]
fn a_length_may_be_typed_with_its_unit_and_the_answer_says_what_was_taken() {
    let house = House::new().with_bench("east-3");
    out(&house, &["plant", "AT-0412", "add", "--taxon", "Amorphophallus titanum"]);
    for (typed, taken) in [
        (&["1,87"][..], "east-3: 1.87 m taped, today "),
        (&["187cm"], "1.87 m taped"),
        (&["187", "cm"], "1.87 m taped"),
        (&["74in"], "1.88 m taped"),
        (&["6ft", "2in"], "1.88 m taped"),
        (&["6 ft 2 in"], "1.88 m taped"),
    ] {
        let told = out(&house, &[&["tape", "AT-0412"], typed].concat());
        assert!(told.contains(taken), "{typed:?}: {told}");
    }
    let slip = house.run(&["tape", "east-3", "187"]);
    assert_eq!(slip.status.code(), Some(2), "{}", said(&slip));
    assert!(said(&slip).contains("for centimetres type 187 cm"), "{}", said(&slip));
    let told = out(&house, &["sign", "east-3", "mount-moved", "--rim", "95cm", "--tip", "10 ft"]);
    assert!(told.contains("overhead ranger 3.05 m above the datum and side ranger 0.95 m"), "{told}");
    let told = out(&house, &["plant", "AT-0412", "weighed", "68", "lb"]);
    assert!(told.contains("corm 30.844 kg"), "{told}");
    let told = out(&house, &["pollen", "east-3", "collected", "4", "--stored", "-112F"]);
    assert!(told.contains("-80 °C"), "{told}");
    let told = out(
        &house,
        &[
            "pollen",
            told.split_whitespace()
                .find(|word| word.starts_with("AT-0412-"))
                .expect("a lot")
                .trim_matches([',', ';', ':']),
            "stored",
            "39,2F",
        ],
    );
    assert!(told.contains("4 °C"), "{told}");
}

#[test]
fn where_people_read_inches_a_bare_number_is_in_metres_and_both_figures_are_said() {
    let house = house("us");
    let output = run(&house, &["plant", "AT-0412", "add"]);
    assert!(output.status.success(), "{}", said(&output));
    let bare = run(&house, &["tape", "east-3", "1.87"]);
    assert!(
        said(&bare).contains("73.6 in (1.87 m: a number without a unit is in metres)"),
        "{}",
        said(&bare)
    );
    let weighed = run(&house, &["plant", "AT-0412", "weighed", "31,2"]);
    assert!(said(&weighed).contains("31.2 kg are 68.8 lb"), "{}", said(&weighed));
    let kept = run(&house, &["pollen", "east-3", "collected", "2", "--stored", "-80"]);
    assert!(said(&kept).contains("-80 °C are -112.0 °F"), "{}", said(&kept));
    let inches = run(&house, &["tape", "east-3", "74", "in"]);
    assert!(
        said(&inches).contains("74.0 in taped") && !said(&inches).contains("without a unit"),
        "{}",
        said(&inches)
    );
}

#[test]
fn a_time_may_be_typed_as_it_is_said_and_the_answer_says_which_was_taken() {
    let house = House::new().with_bench("east-3");
    out(&house, &["plant", "AT-0412", "add"]);
    for (typed, taken) in [
        ("yesterday evening", "bract-dropped recorded, yesterday 20:00"),
        ("last night", "yesterday 22:00"),
        ("yesterday 4:40 pm", "yesterday 16:40"),
        ("yesterday 16.40", "yesterday 16:40"),
        ("a minute ago", "recorded, "),
    ] {
        let told = out(&house, &["sign", "east-3", "bract-dropped", "--at", typed]);
        assert!(told.contains(taken), "{typed}: {told}");
    }
    let ahead = house.run(&["sign", "east-3", "opened", "--at", "2099-01-01 8 am"]);
    assert_eq!(ahead.status.code(), Some(2), "{}", said(&ahead));
    let told = said(&ahead);
    assert!(
        told.contains("\"2099-01-01 8 am\" is Thu 1 Jan 2099 08:00 and yet to come"),
        "by local clocks: {told}"
    );
    let nothing = house.run(&["sign", "east-3", "opened", "--at", "tea time"]);
    assert!(
        said(&nothing).contains("\"tea time\" is no time") && said(&nothing).contains("20 minutes ago"),
        "{}",
        said(&nothing)
    );
}
