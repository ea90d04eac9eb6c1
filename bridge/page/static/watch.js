// One bank on one screen: is it safe, where is it, how long, what now; then the evidence.
import { amount, apart, bankPage, byId, coded, day, degrees, degreeUnit, doneWords, el, ends, happened, headed, hours, listen, moment, need, needScript, openSite, orderLength, owned, renew, reveal, say, showAnswer, span, tab, temperature } from "./common.js";
import { Acts } from "./act.js";
import { Cells } from "./cells.js";
import { Curve } from "./chart.js";
import { Queue, who } from "./queue.js";
import { Years } from "./years.js";

const KINDS = { hazard: "danger, stays until a person resets", permit: "pauses charging, comes back by itself", start: "forbids a start", chore: "to do" };

// The stream is opened before anything else; what it tells waits until the page is made.
let begin;
const begun = new Promise((done) => (begin = done));
listen(
  {
    bank: (told) => (told.bank === site.chosen ? showBank(told) : tab(told, "", false)),
    hand: (told) => {
      if (told.bank !== site.chosen) return;
      cells.take(told, view);
      if (curve) curve.later(2000); // it is a mark on the curve, and a line in what happened
    },
    silent: () => view && showAnswer(view.safe),
  },
  begun,
);

const site = await openSite();
const curvePath = `/api/curve/${encodeURIComponent(site.chosen)}`;
const asked = fetch(curvePath); // on its way while everything else is made
const bank = site.banks[site.chosen];
let view = null;
let takeBack = false;
const cells = new Cells(site, bank);
byId("cell-close").addEventListener("click", () => byId("cell").close());
let curve = null;
let firstState = () => {};

say("bank", headed(site.chosen));
const acts = new Acts(site, bank, () => view, (words, refusedToken) => {
  say("act-note", words);
  if (refusedToken) askWho();
});
byId("acts").append(...acts.buttons(["reset", "resume"]));
const queue = new Queue((waiting, refused, words) => noted(waiting ? `${waiting} to be sent. ${words}` : [...refused.map((item) => `Not taken: ${item.refused}.`), words].join(" ")));

function askWho() {
  byId("act-note").replaceChildren("Enter your name and the token of this bridge first: ", el("a", { href: `${bankPage("/bench", site.chosen)}#who` }, "who enters"), ".");
}
const track = byId("track");
for (const phase of site.phases) track.append(el("li", { class: `p-${phase}` }, el("span", {}, phase)));

// What no living meter tells says who told it and when; where a meter was heard before, the age is not of this value.
const aged = (value, otherwise, age) => (otherwise ? [`${value}, ${owned(otherwise)}`, otherwise.includes("last heard") ? undefined : age] : [value, age]);

function figures(id, rows) {
  const list = byId(id);
  const text = JSON.stringify(rows);
  if (list.dataset.shown === text) return;
  list.dataset.shown = text;
  list.replaceChildren(...rows.filter(Boolean).map(([name, value, age]) => el("div", {}, el("dt", {}, name), el("dd", {}, value, age === undefined ? null : el("small", { "data-age": age })))));
}

// The age beside a figure goes on while nothing new is told: a lost bridge makes every figure old.
let toldAt = performance.now();
function showAges() {
  const since = (performance.now() - toldAt) / 1000;
  for (const place of document.querySelectorAll("[data-age]")) {
    const age = Number(place.dataset.age) + since;
    say(place, ` ${age < 15 ? "now" : `${span(age)} ago`}`);
  }
}
setInterval(showAges, 1000);

// What is wrong, before anything else: cause, value, limit, and where, as the flag tells it.
function showCauses(told) {
  const causes = told.flags.filter((flag) => told.unsafe.includes(flag.name)).map((flag) => [flag.name, why(flag)]);
  for (const latch of told.lock.latched) if (!causes.some(([name]) => name === latch.name)) causes.push([latch.name, owned(latch.reason)]);
  if (told.lock.burning === "fire") causes.unshift(["Get everybody out", "and call the fire service from outside: open no door or window on a fire, and do not air it."]);
  else if (told.lock.burning === "smoke" && told.lock.out_until > told.at) causes.unshift(["Leave the room", "and let nobody in: touch no switch in it; where the smoke goes on or grows call the fire service from outside and open nothing."]);
  else if (told.lock.out_until > told.at) causes.unshift(["Leave the room", "and let nobody in: touch no switch in it, air it from outside."]);
  const [aid, ...how] = told.lock.first_aid.split(": ");
  if (aid) causes.unshift([`${aid}:`, how.join(": ")]);
  const text = JSON.stringify(causes);
  const list = byId("causes");
  if (list.dataset.shown !== text) {
    list.dataset.shown = text;
    const rest = causes.slice(3).map(([name]) => name.replaceAll("-", " ")).join(", ");
    list.replaceChildren(...causes.slice(0, 3).map(([name, words]) => el("li", {}, el("b", {}, name.replaceAll("-", " ")), words ? ` ${words}` : "")), ...(rest ? [el("li", {}, "and ", el("b", {}, rest))] : []));
  }
  const offered = { reset: told.lock.latched.length > 0 || told.lock.exhausted, resume: told.lock.needs_resume && !told.lock.no_resume };
  const focused = document.activeElement;
  for (const button of byId("acts").children) {
    button.hidden = !offered[button.dataset.act];
    if (button.dataset.act !== "reset") continue;
    // Its box reads "I have been there": nobody may be, in the hour after a danger was noted, and no reset is taken.
    // Nor is it offered while what tripped is still there and it would be refused.
    const out = told.lock.out_until > told.at;
    button.disabled = out || Boolean(told.lock.no_reset);
    say(button, out ? `Reset the trip, from ${moment(60 * Math.ceil(told.lock.out_until / 60))}` : `Reset the trip${button.disabled ? `: not yet, ${owned(told.lock.no_reset)}` : ""}`);
  }
  // Reset gives way to resume, or to nothing: who came by keyboard is not sent back to the head of the page.
  if (focused.hidden) (byId("acts").querySelector("button:not([hidden])") || byId("main")).focus();
}

function why(flag) {
  const value = flag.value === null ? "" : measured(flag.value, flag.unit);
  // Where the reason begins with the value itself, rounded in another unit, it is not said twice.
  const reason = flag.reason.replace(/^-?[\d.]+ degC/, value);
  const limit = flag.value === null || flag.limit === null ? "" : `limit ${measured(flag.limit, flag.unit)}`;
  const figures = [reason.startsWith(value) ? "" : value, limit].filter(Boolean).join(", ");
  return owned(reason) + (figures && !reason.startsWith(value) ? ": " : figures && reason ? ", " : "") + figures;
}

// What is due, each with the place where it is noted. One tap notes that somebody looked in and nothing else:
// what was read, seen or poured is entered at the bench.
const NOTED = {
  "presence-due": ["I looked in", null],
  "water-due": ["Note water", "water"],
  "level-due": ["Note levels", "level"],
  "gravity-due": ["Note gravity", "gravity"],
  "string-currents-due": ["Note amps", "measured"],
  "look-again": ["Note what is seen", "seen"],
  "checklist-open": ["The checklist", "checklist"],
};

function showTodo(told) {
  const due = told.flags.filter((flag) => NOTED[flag.name]).map((flag) => [flag.name, "due now"]);
  for (const row of told.chores) if (NOTED[row.chore] && !due.some(([name]) => name === row.chore)) due.push([row.chore, row.due_at > told.at ? `due ${moment(row.due_at)}` : "due now"]);
  const text = JSON.stringify(due);
  const list = byId("todo");
  if (list.dataset.shown === text) return;
  list.dataset.shown = text;
  renew(list, ...due.slice(0, 4).map(([name, when]) => el("li", {}, el("span", {}, name.replace(/-due$/, "").replaceAll("-", " "), " ", el("small", {}, when)), noteButton(name))));
}

function noteButton(name) {
  const [words, sheet] = NOTED[name];
  if (sheet) return el("a", { class: "button", href: `${bankPage("/bench", site.chosen)}#${sheet}` }, words);
  return el("button", { type: "button", onclick: () => (who.token ? lookedIn() : askWho()) }, words);
}

// A signal that is heard, for those who asked for it: at once, and again for as long as it is not safe.
const AGAIN = 20000;
let audio = null;
byId("sound").addEventListener("change", (event) => {
  if (audio) audio.close();
  audio = event.target.checked ? new AudioContext() : null;
  beep(1); // so that it was heard once, and may be heard later
});
function beep(times) {
  for (let turn = 0; audio && turn < times; turn += 1) {
    const tone = audio.createOscillator();
    tone.frequency.value = 880;
    tone.connect(audio.destination);
    tone.start(audio.currentTime + 0.35 * turn);
    tone.stop(audio.currentTime + 0.35 * turn + 0.2);
  }
}
setInterval(() => view && (view.safe === "no" || document.body.classList.contains("stale")) && beep(3), AGAIN);

function showBank(told) {
  const worse = told.safe === "no" && (!view || view.safe !== "no");
  view = told;
  toldAt = performance.now();
  const now = told.at;
  showAnswer(told.safe);
  showCauses(told);
  // What the flags above say already is not said twice.
  say("standing", owned(told.safe === "not-yet" && told.unsafe.length ? told.charger : told.standing));
  say("air", owned(told.gas));

  say("phase", told.where);
  byId("phase").classList.toggle("long", told.where !== told.phase);
  say("phase-since", told.phase_since ? `since ${moment(told.phase_since)}` : "");
  for (const item of track.children) {
    if (item.textContent === told.phase && told.where.startsWith(told.phase)) item.setAttribute("aria-current", "step");
    else item.removeAttribute("aria-current");
  }
  figures("figures", [
    ["volts per cell", ...aged(amount(told.volts_per_cell, 3, "V"), told.not_live.voltage, told.freshness.voltage)],
    ["bank", ...aged(amount(told.voltage, 2, "V"), told.not_live.voltage, told.freshness.voltage)],
    [told.current_estimated ? "current, estimated" : "current", ...aged(amount(told.current, 1, "A"), told.not_live.current, told.freshness.current)],
    ["electrolyte", ...aged(temperature(told.temperature), told.not_live.temperature, told.freshness.electrolyte_temperature)],
    ["charge returned", amount(told.charge_returned, 0, "Ah"), told.freshness.current],
    told.hold_needed ? ["hold", `${told.hold_hours.toFixed(1)} of ${told.hold_needed.toFixed(0)} h`, told.freshness.voltage] : null,
    told.string_currents.length ? ["strings", told.string_currents.map((amps) => amps.toFixed(1)).join(" + ") + " A", told.freshness.current] : null,
    told.amounts.hydrogen ? ["hydrogen", told.amounts.hydrogen, told.freshness.current] : null,
    told.amounts.water ? ["water used", told.amounts.water, told.freshness.current] : null,
  ]);
  showAges();

  showHours(told);
  showNext(owned(told.next_step || "Nothing."));
  const then = (told.then || []).map(owned);
  if (byId("then").dataset.shown !== JSON.stringify(then)) {
    byId("then").dataset.shown = JSON.stringify(then);
    byId("then").replaceChildren(...then.map((line) => el("li", {}, ...coded(line))));
  }
  showTodo(told);
  showFlags(told.flags, now);
  showRelay(told, now);
  tab(told, site.chosen);
  cells.take(null, told);
  if (curve) curve.live(told);
  reveal();
  requestAnimationFrame(firstState);
  if (worse) beep(3);
}

function lookedIn() {
  takeBack = true;
  queue.add(site.chosen, { kind: "note", note: "looked in" });
}

function noted(words) {
  const back = el("button", { type: "button", onclick: () => {
    takeBack = false;
    queue.add(site.chosen, { kind: "note", undo: true });
  } }, "Take it back");
  renew(byId("noted"), words, ...(takeBack ? [" ", back] : []));
}

// The order stands first and large; why neighbours get it wrong follows.
function showNext(text) {
  const place = byId("next");
  if (place.dataset.shown === text) return;
  place.dataset.shown = text;
  const end = orderLength(text);
  const rest = text.slice(end).replace(/^[.:;,] /, "");
  place.replaceChildren(el("strong", {}, ...coded(text.slice(0, end))), " ", el("span", {}, ...coded(rest.slice(0, 1).toUpperCase() + rest.slice(1))));
}
// On a small screen the reasons take three lines until they are asked for.
byId("more").addEventListener("click", () => {
  const open = byId("now").classList.toggle("whole");
  byId("more").setAttribute("aria-expanded", String(open));
  say("more", open ? "Less" : "All of it");
});

function showHours(told) {
  const known = told.remaining_hours !== null;
  say("hours", known ? `about ${hours(told.remaining_hours)} h` : told.remaining_reason === "no round" ? "no round" : "not known yet");
  const end = ends(told);
  say("hours-range", known ? `${hours(told.remaining_low)} to ${hours(told.remaining_high)} h of charging; ${doneWords(end, told.at)}.` : "");
  say("hours-why", known || told.remaining_reason !== "no round" ? owned(told.remaining_reason || "") : "");
  const range = byId("range");
  range.hidden = !known;
  if (known) {
    const whole = Math.max(told.remaining_high, 0.1) * 1.1;
    range.style.setProperty("--from", `${(100 * told.remaining_low) / whole}%`);
    range.style.setProperty("--to", `${(100 * told.remaining_high) / whole}%`);
    range.style.setProperty("--middle", `${(100 * told.remaining_hours) / whole}%`);
  }
}

function showFlags(flags, now) {
  const list = byId("flags");
  const text = JSON.stringify(flags);
  if (list.dataset.shown !== text) {
    list.dataset.shown = text;
    list.replaceChildren(
      ...flags.map((flag) => {
        const words = why(flag);
        return el(
          "li",
          { "data-level": flag.kind === "start" ? "permit" : flag.kind },
          el("h3", {}, el("span", { class: "name" }, flag.name.replaceAll("-", " ")), el("span", { class: "kind" }, KINDS[flag.kind] || flag.kind)),
          el("p", { class: "why" }, words ? `${words}.` : ""),
          el("p", { class: "do" }, ...coded(owned(flag.action))),
          el("p", { class: "faint since", "data-since": flag.since }),
        );
      }),
    );
    if (!flags.length) list.append(el("li", { "data-level": "safe" }, el("p", {}, "None raised.")));
  }
  for (const since of list.querySelectorAll(".since")) {
    say(since, `Since ${moment(Number(since.dataset.since))}, for ${span(Math.max(0, now - Number(since.dataset.since)))}.`);
  }
}

const LONG = 120; // from here on minutes are told as hours [min]
function measured(value, unit) {
  if (unit === "degC") return `${degrees(value).toFixed(1)} ${degreeUnit()}`;
  if (unit === "K" || unit === "K/h") return `${apart(value).toFixed(1)} ${degreeUnit()}${unit.slice(1)}`;
  if (unit === "min" && value >= LONG) return `${(value / 60).toFixed(1)} h`;
  return `${Number(value.toPrecision(3))}${unit && unit !== "1" ? ` ${unit}` : ""}`;
}

function showRelay(told, now) {
  if (!bank.relay) {
    figures("relay", [["relay", "none: this bank is only watched, you switch the charger yourself"], ["charger", owned(told.charger || "")]]);
    return;
  }
  const lock = told.lock;
  const proof = lock.proof;
  figures("relay", [
    ["reports", { open: "open", closed: "closed" }[told.relay] || "nothing, its state is not known"],
    ["charging", told.charge_allowed ? "allowed" : `not allowed${lock.withdrawn_for ? `: ${lock.withdrawn_for}` : ""}`],
    lock.order_at ? ["last order", `${lock.allowed ? "allow" : "cut"}, ${moment(lock.order_at)}`] : null,
    !lock.allowed && lock.order_at
      ? ["cut seen", lock.confirmed_at ? `after ${Math.max(0, lock.confirmed_at - lock.order_at).toFixed(1)} s` : "not confirmed yet"]
      : null,
    lock.latched.length ? ["tripped by", lock.latched.map((latch) => `${latch.name}, ${moment(latch.at)}`).join("; ")] : null,
    lock.needs_resume ? [lock.noted ? "after what was noted" : "after the reset", lock.no_resume ? `no resume yet: ${owned(lock.no_resume)}` : "a person must also give resume"] : null,
    ["proof test", lock.proving ? "running" : proof ? `${proof.passed ? "passed" : "FAILED"} ${moment(proof.at)}, ${proof.seconds} s: ${proof.note}` : "never"],
    ["checklist", lock.checklist_by ? `confirmed by ${lock.checklist_by}` : "not confirmed"],
    bank.auto_off ? ["opens by itself", `${bank.auto_off} s after the last order to stay closed: ${lock.own_off}`] : ["opens by itself", "no: loss of broker or network is not covered"],
  ]);
}

async function showDays() {
  const told = await need(`/api/days/${encodeURIComponent(site.chosen)}?offset=${-new Date().getTimezoneOffset()}`, "the last days");
  if (!told.days.length) {
    byId("days").replaceChildren(el("p", {}, "Nothing recorded yet."));
    return;
  }
  const most = Math.max(1, ...told.days.map((one) => one.current_max || 0));
  const heat = (value) => (value === null ? null : degrees(value));
  const hottest = Math.max(heat(bank.hot), ...told.days.map((one) => heat(one.temperature_max) ?? 0));
  byId("days").replaceChildren(
    el(
      "table",
      {},
      el("thead", {}, el("tr", {}, ...["day", "phases", "volts per cell", "amps", degreeUnit(), "trips"].map((name) => el("th", { scope: "col" }, name)))),
      el(
        "tbody",
        {},
        ...told.days.map((one) =>
          el(
            "tr",
            {},
            el("th", { scope: "row" }, day(one.at)),
            el("td", {}, one.phases.join(", ") || "–"),
            bars("voltage", one.voltage_min, one.voltage_max, 1.6, bank.ceiling, 2),
            bars("current", one.current_min, one.current_max, 0, most, 1),
            bars("temperature", heat(one.temperature_min), heat(one.temperature_max), degrees(0), hottest, 0),
            el("td", {}, one.trips ? String(one.trips) : "none"),
          ),
        ),
      ),
    ),
  );
}

function bars(kind, least, greatest, from, to, digits) {
  if (least === null || greatest === null) return el("td", {}, "–");
  const place = (value) => Math.min(100, Math.max(0, ((value - from) / (to - from)) * 100));
  const strip = el("span", { class: `strip ${kind}`, "aria-hidden": "true" }, el("i"));
  strip.firstChild.style.left = `${place(least)}%`;
  strip.firstChild.style.width = `${Math.max(2, place(greatest) - place(least))}%`;
  const written = (value) => value.toFixed(digits).replace("-", "−");
  return el("td", {}, `${written(least)} to ${written(greatest)}`, strip);
}

function showLog(marks) {
  const list = byId("log");
  list.replaceChildren(...marks.slice(-25).reverse().map((mark) => el("li", { class: `m-${mark.kind}` }, el("time", {}, moment(mark.at)), " ", happened(mark))));
  if (!marks.length) list.append(el("li", {}, "Nothing in this stretch."));
}

begin();
// The chart script is long: it is fetched early and read only once the answers above stand on the page.
await Promise.race([new Promise((done) => (firstState = done)), new Promise((done) => setTimeout(done, 3000))]);
await needScript("dygraph.js", "the drawing of the curve");
curve = new Curve(site, bank, showLog, view);
for (const caution of site.cautions) byId("cautions").append(el("li", {}, owned(caution)));
await Promise.race([Promise.all([curve.whole(asked), showDays()]), new Promise((done) => setTimeout(done, 4000))]);
if (view) curve.live(view);
setInterval(showDays, 120000);
document.documentElement.dataset.ready = "yes";
new Years(site, bank).show();
