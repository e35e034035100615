// Keeps the page up to date and says when the service is lost. Without it the page reads and works as well, loaded anew now and then.
"use strict";
(() => {
  const LOST_AFTER_MS = 15_000, WHOLE_EVERY_MS = 300_000, PRESS_MS = 400;
  const contact = document.getElementById("contact");
  const said = document.getElementById("said");
  const clock = new Intl.DateTimeFormat("en-GB", {
    timeZone: document.documentElement.dataset.zone, hour: "2-digit", minute: "2-digit", second: "2-digit",
  });
  let lastHeard = Date.now(), lastWhole = Date.now();
  let asking = false, askAgain = false, pressing = false, waiting = null, source = null;

  function heard() {
    lastHeard = Date.now();
    if (!contact.hidden) {
      contact.hidden = true;
      contact.textContent = "";
      document.body.classList.remove("lost");
    }
  }

  function look() {
    if (Date.now() - lastHeard > LOST_AFTER_MS && contact.hidden) {
      contact.textContent = "This page has heard nothing since " + clock.format(lastHeard) +
        ", and shows what was so then. Look at the plants, and at the machine. Alarms come by phone, not by this page.";
      contact.hidden = false;
      document.body.classList.add("lost");
    }
    if (!source || source.readyState === EventSource.CLOSED) listen();
  }

  // Parts that changed take the place of the old ones; what is focused, unfolded or filled in stays so.
  function put(page) {
    if (pressing) { waiting = page; return; }
    if (document.title !== page.title) {
      document.title = page.title;
      said.textContent = page.title;
    }
    for (const part of page.querySelectorAll("[data-live]")) {
      const here = document.getElementById(part.id);
      if (!here || here.innerHTML === part.innerHTML) continue;
      const focused = here.contains(document.activeElement) ? document.activeElement.id : "";
      const folds = [...here.querySelectorAll("details[id]")].map(details => [details.id, details.open]);
      const filled = [...here.querySelectorAll("input[id], select[id]")].map(field => [field.id, field.value]);
      here.replaceChildren(...part.childNodes);
      for (const [id, open] of folds) document.getElementById(id)?.toggleAttribute("open", open);
      for (const [id, value] of filled) { const field = document.getElementById(id); if (field) field.value = value; }
      if (focused) document.getElementById(focused)?.focus({preventScroll: true});
    }
  }

  async function ask() {
    if (asking) { askAgain = true; return; }
    asking = true;
    try {
      const whole = Date.now() - lastWhole > WHOLE_EVERY_MS;
      const answer = await fetch(location.pathname + location.search, {cache: "no-store", headers: whole ? {} : {"X-Part": "live"}});
      if (answer.ok) {
        put(new DOMParser().parseFromString(await answer.text(), "text/html"));
        if (whole) lastWhole = Date.now();
        heard();
      }
    } catch {
      // the stream's silence says it
    }
    asking = false;
    if (askAgain) { askAgain = false; ask(); }
  }

  function listen() {
    source = new EventSource("/live");
    source.addEventListener("changed", ask);
    source.addEventListener("beat", heard);
    source.addEventListener("open", ask);
  }

  // A press that has begun is finished on the page that it began on.
  addEventListener("pointerdown", () => { pressing = true; });
  for (const end of ["pointerup", "pointercancel", "blur"]) {
    addEventListener(end, () => setTimeout(() => {
      pressing = false;
      if (waiting) { const page = waiting; waiting = null; put(page); }
    }, PRESS_MS));
  }
  addEventListener("submit", event => {
    if (document.body.dataset.sent) { event.preventDefault(); return; }
    document.body.dataset.sent = "yes";
    event.submitter?.classList.add("sent");
  });
  addEventListener("pageshow", () => { delete document.body.dataset.sent; });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) ask(); });
  addEventListener("pagehide", () => source?.close());
  setInterval(look, 1_000);
  listen();
})();
