//! The review as a file: it needs nothing from anywhere, and a browser shows all of it.

use std::fs;
use std::process::Command;

use end_to_end::house::said;
use serde_json::{Value, json};

use super::{house, out};

/// What a page could fetch, or run, by RFC 3986 and the HTML standard's list of elements that load something.
#[test]
fn a_page_needs_nothing_from_anywhere() {
    let house = house("");
    let page = out(&house, &["review", "east-3", "--compare", "2027-03-13 14:31", "--output", "-"]);
    let lower = page.to_lowercase();
    for foreign in [
        "://",
        "src=",
        "href=",
        "srcset=",
        "url(",
        "@import",
        "@font-face",
        "<script",
        "<link",
        "<img",
        "<iframe",
        "<object",
        "<embed",
        "<form",
        "javascript:",
        "onload",
        "data:",
    ] {
        assert!(!lower.contains(foreign), "{foreign}");
    }
    assert!(page.contains("full-open &lt;b&gt;&amp;"), "words are words");
    let drawings = page.matches("<svg class=\"drawing\"").count();
    assert!(drawings > 3, "{drawings}");
    assert_eq!(
        page.matches("<svg").count() - drawings,
        16,
        "eight pictures, each for a screen and for a phone"
    );
    assert_eq!(page.matches("<svg").count(), page.matches("</svg>").count());
    assert!(!page.contains("NaN") && !page.contains("inf,"));

    // a file of its own, named after the bloom
    let folder = tempfile::tempdir().expect("a folder");
    let output = house.command(&["review", "east-3"]).current_dir(folder.path()).output().expect("it starts");
    assert_eq!(String::from_utf8_lossy(&output.stdout), "east-3-2027a.html\n", "{}", said(&output));
    let names: Vec<_> =
        fs::read_dir(folder.path()).expect("a folder").flatten().map(|e| e.file_name()).collect();
    assert_eq!(names, ["east-3-2027a.html"]);
    let nowhere = house.run(&["review", "east-3", "--output", "/nowhere/page.html"]);
    assert_eq!(nowhere.status.code(), Some(1));
    assert!(said(&nowhere).contains("/nowhere/page.html cannot be written"), "{}", said(&nowhere));
    // a part of it does not take the place of the whole
    let part = ["review", "east-3", "--from", "2027-03-11", "--to", "2027-03-16"];
    let output = house.command(&part).current_dir(folder.path()).output().expect("it starts");
    let said = said(&output);
    assert_eq!(String::from_utf8_lossy(&output.stdout), "east-3-2027-03-11-to-2027-03-15.html\n", "{said}");
}

/// What a browser makes of the page, asked from a page around it; `file://` pages may look into each other by a switch.
const LOOK: &str = r#"<!doctype html><iframe id="f" src="PAGE" width="WIDTH" height="4000" style="border:0"></iframe><pre id="said"></pre>
<script>
const faults = [];
addEventListener("load", () => {
  const inner = document.getElementById("f").contentWindow, page = inner.document;
  const width = page.documentElement.clientWidth;
  if (page.documentElement.scrollWidth > width) faults.push("wider than the window: " + page.documentElement.scrollWidth);
  let seen = 0;
  for (const element of page.querySelectorAll("body *")) {
    const box = element.getBoundingClientRect();
    if (box.width === 0 || box.height === 0) continue;
    seen += 1;
    if (box.right > width + 0.5 || box.left < -0.5) faults.push("cut off: " + element.outerHTML.slice(0, 120));
    if (element.tagName === "text") {
      const picture = element.ownerSVGElement.getBoundingClientRect();
      if (box.left < picture.left - 0.5 || box.right > picture.right + 0.5 || box.top < picture.top - 0.5)
        faults.push("out of its picture: " + element.outerHTML.slice(0, 160));
      if (box.height < 8) faults.push("too small to read: " + box.height + " " + element.textContent);
    }
  }
  const pictures = [...page.querySelectorAll("figure svg")].filter(svg => svg.getBoundingClientRect().width > 0).length;
  const fetched = inner.performance.getEntriesByType("resource").length;
  document.getElementById("said").textContent =
    JSON.stringify({width, pictures, fetched, scripts: page.scripts.length, seen: seen > 500, faults: faults.slice(0, 8)});
});
</script>"#;

/// On a phone and on a screen, in Debian's Chromium without a network.
#[test]
fn a_browser_shows_all_of_it_on_a_phone_and_on_a_screen() {
    let house = house("");
    let page = house.path("page.html");
    let compared = ["review", "east-3", "--compare", "2027-03-13 14:31", "--output"];
    out(&house, &[&compared[..], &[&page.display().to_string()]].concat());
    for width in [360, 1400] {
        let around = house.path("around.html");
        let text =
            LOOK.replace("PAGE", &format!("file://{}", page.display())).replace("WIDTH", &width.to_string());
        fs::write(&around, text).expect("a file can be written");
        let output = Command::new("chromium")
            .args(["--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"])
            .args([
                "--allow-file-access-from-files",
                "--window-size=1500,4000",
                "--host-resolver-rules=MAP * ~NOTFOUND",
                "--dump-dom",
            ])
            .arg(format!("--user-data-dir={}", house.path("browser").display()))
            .arg(format!("file://{}", around.display()))
            .output()
            .expect("chromium starts: tests/run installs it");
        let dom = String::from_utf8_lossy(&output.stdout);
        let answer = dom.split("<pre id=\"said\">").nth(1).and_then(|rest| rest.split("</pre>").next());
        let answer: Value = serde_json::from_str(
            &answer.unwrap_or_else(|| panic!("{}", said(&output))).replace("&lt;", "<").replace("&gt;", ">"),
        )
        .unwrap_or_else(|error| panic!("{error}: {}", said(&output)));
        let wanted =
            json!({"width": width, "pictures": 8, "fetched": 0, "scripts": 0, "seen": true, "faults": []});
        assert_eq!(answer, wanted);
    }
}
