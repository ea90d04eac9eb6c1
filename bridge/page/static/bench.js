// At the bench: gravities with a number pad, what was added and seen, the checklist, and the round's acts.
import { besides, byId, canBeKept, celsius, degreeUnit, el, listen, moment, openSite, owned, renew, reveal, say, showAnswer, tab, temperature } from "./common.js";
import { Acts } from "./act.js";
import { Queue, post, who } from "./queue.js";

const site = await openSite();
const bank = site.banks[site.chosen];
const cells = bank.strings.flat().flatMap((block) => Array.from({ length: block.cells }, (_, cell) => `${block.label}.${cell + 1}`));
say("kept", canBeKept() ? "" : "This page came unencrypted: keep it open where there is no signal, a reload there would lose it. What you enter stays on this device and is sent later.");
const DRAFT = `revival.draft.${site.chosen}`;
let view = null;
let hand = null;

say("bank", `Bench: ${site.chosen}`);
document.title = `Bench, ${site.chosen}`;
for (const caution of site.cautions) byId("cautions").append(el("li", {}, owned(caution)));
for (const unit of document.querySelectorAll(".degree")) unit.textContent = `temperature, ${degreeUnit()}`;
for (const label of document.querySelectorAll(".poured")) label.textContent = `Distilled water added, ${site.poured} in all`;

// ---------------------------------------------------------------------------------- the queue

let undoable = ""; // kind of the entry that was made last and may be taken back at once
const queue = new Queue((waiting, refused, words) => {
  const left = [waiting ? `${waiting} ${waiting === 1 ? "entry waits" : "entries wait"} to be sent.` : null, refused.length ? `${refused.length} not taken.` : null].filter(Boolean).join(" ");
  // Nothing to be sent is nothing to be said: "nothing waits" above a danger would be read of the bank.
  say("queue", [left, words].filter(Boolean).join(" "));
  byId("queue-line").dataset.level = waiting || refused.length ? "permit" : "safe";
  byId("queue-undo").hidden = !undoable || waiting > 0;
  renew(
    byId("failed"),
    ...refused.map((item) =>
      el(
        "li",
        { "data-level": "hazard" },
        el("p", {}, `${item.record.kind} of ${moment(item.record.taken_at)} was not taken: ${item.refused}.`),
        el("p", { class: "faint" }, JSON.stringify(item.record.values || item.record.note)),
        ...(item.meant ? [answer(item, "Yes, take it so", item.meant), " "] : []),
        answer(item, item.meant ? "Keep my words" : item.asked ? "It is meant" : "Send again", item.asked ? { sure: true } : {}),
        " ",
        el("button", { type: "button", "aria-label": `Drop it: ${item.record.kind} of ${moment(item.record.taken_at)}`, onclick: () => queue.drop(item.record.key) }, "Drop it"),
      ),
    ),
  );
});
// What a person answers to why it was not taken: it is sent once more, so.
function answer(item, words, meant) {
  return el("button", { type: "button", "aria-label": `${words}: ${item.record.kind} of ${moment(item.record.taken_at)}`, onclick: () => queue.again(item.record.key, meant) }, words);
}
function keep(record) {
  undoable = record.undo ? "" : record.kind;
  queue.add(site.chosen, record);
}
byId("queue-undo").addEventListener("click", () => keep({ kind: undoable, undo: true }));

// ---------------------------------------------------------------------------------- gravities

const WHOLE = /^1[.,]?\d{3}$/;
const WARMTH = -1; // the place before the first cell: how warm the acid is
const FRESH = { at: WARMTH, values: {} };
let walk = JSON.parse(localStorage.getItem(DRAFT) || "null") || { ...FRESH };
let wiped = null; // the sheet that was started over, for as long as it may be brought back
let doubted = ""; // what was typed and asked "sure?" about
let unread = ""; // what was typed and is no gravity or no warmth: the next digit begins anew
const input = byId("reading");

// What a person wrote as a gravity [1]; null where it is a mark, undefined where it is neither. The bridge has the
// last word; this says the same at once.
function gravityOf(text) {
  const written = text.trim().toLowerCase();
  if (["low", "high", "none"].includes(written)) return null;
  const found = /^(?:sg\s*)?(\d{1,4}(?:[.,]\d+)?)\s*(?:sg|(°?\s*b(?:[eé]|aum[eé])\.?))?$/.exec(written);
  if (!found) return undefined;
  const number = Number(found[1].replace(",", "."));
  const baume = found[2] !== undefined || (number > 14 && number <= 45); // from 10 on it may be a gravity with its point one place on
  const gravity = baume ? 145 / (145 - Math.min(number, 70)) : number >= 1000 ? number / 1000 : number;
  return gravity >= 1 && gravity <= 1.4 ? gravity : undefined;
}

// The rule of `rules.hand.slips`, with its figures and its sentences: the bench asks where there is no connection too.
const slips = site.slips;
const sentence = (name, told) => slips.words[name].replace(/\{(\w+)\}/g, (_, one) => told[one]);
const ago = (hours) => (hours >= 1 ? `${hours.toFixed(0)} h` : hours > slips.moment ? `${(60 * hours).toFixed(0)} min` : "a moment");

// What may have been meant where two digits stand the wrong way round.
function swapped(number) {
  const places = [...number.matchAll(/\d/g)].map((found) => found.index);
  if (places.length < slips.digits) return [];
  const all = places.slice(1).map((other, n) => {
    const signs = [...number];
    [signs[places[n]], signs[other]] = [signs[other], signs[places[n]]];
    return signs.join("");
  });
  return all.filter((meant) => {
    const value = Number(meant.replace(",", "."));
    const gravity = value >= 1000 ? value / 1000 : value;
    return meant !== number && gravity > 1 && gravity <= slips.likely;
  });
}

// Why what was typed is no gravity, in the words of the bridge.
function noGravity(text) {
  const written = `'${text.trim()}'`;
  const found = /^(?:sg\s*)?(\d{1,4}(?:[.,]\d+)?)\s*(?:sg)?$/i.exec(text.trim());
  const number = found ? Number(found[1].replace(",", ".")) : NaN;
  if (number >= 10 && number <= 14) return sentence("scales", { written, gravity: (number / 10).toFixed(3), baume: (145 / (145 - number)).toFixed(3), number });
  const meant = found ? swapped(found[1]).join(" or ") : "";
  return sentence("none", { written, asked: meant ? sentence("meant", { meant }) : ";" });
}

const apart = (one, other) => Math.round(Math.abs(one - other) * 10000) / 10000;
const corrected = (gravity) => (typeof walk.warmth === "number" ? gravity + slips.kelvin * (walk.warmth - bank.hydrometer_reference) : gravity);

// The cell's last number within a day: when, and which.
function lastOf(cell) {
  const numbers = ((hand && hand.cells[cell]) || []).filter((entry) => typeof entry[1] === "number" && Date.now() / 1000 - entry[0] <= 86400);
  return numbers.at(-1);
}

// A gravity as whoever read it knows it, and as it is kept where that differs.
function asTyped(cell, [at, kept]) {
  const entry = hand.entries.find((each) => each.kind === "gravity" && each.taken_at === at && each.values[cell] !== undefined);
  const typed = entry ? gravityOf(String(entry.values[cell])) : kept;
  return typeof typed === "number" && typed.toFixed(3) !== kept.toFixed(3) ? `${typed.toFixed(3)} (corrected ${kept.toFixed(3)})` : kept.toFixed(3);
}

// The middle of what the neighbours read, on this sheet and, where it says nothing yet, on the last one; null where
// they are too few, or most of them do not read alike.
function neighbours(cell) {
  const own = cells.filter((one) => one !== cell).map((one) => {
    const here = walk.values[one] === undefined ? undefined : gravityOf(walk.values[one]);
    if (here === undefined) return lastOf(one) && lastOf(one)[1];
    return typeof here === "number" ? corrected(here) : here;
  });
  const known = own.filter((value) => typeof value === "number").sort((a, b) => a - b);
  const half = Math.floor(known.length / 2);
  const middle = known.length % 2 ? known[half] : (known[half - 1] + known[half]) / 2;
  const alike = known.filter((value) => apart(value, middle) <= slips.strange).length;
  return known.length >= slips.neighbours && 2 * alike > known.length ? middle : null;
}

function watered(cell, since) {
  const inside = (where) => !where || where === cell || where === cell.slice(0, cell.lastIndexOf("."));
  return ((hand && hand.entries) || []).some((entry) => entry.kind === "water" && entry.taken_at >= since && Object.keys(entry.values).some(inside));
}

// Why a reading is asked about before it is taken; empty where it may well be.
function doubt(gravity) {
  if (typeof gravity !== "number") return "";
  const cell = cells[walk.at];
  const written = `${cell} at ${gravity.toFixed(3)}`;
  if (gravity > bank.full_gravity + slips.strange) return sentence("full", { written, full: bank.full_gravity.toFixed(3) });
  const now = Date.now() / 1000;
  const last = lastOf(cell);
  const value = corrected(gravity);
  const hours = last ? Math.abs(now - last[0]) / 3600 : 0;
  const before = last ? asTyped(cell, last) : "";
  const moved = slips.twice + slips.hour * hours;
  const middle = neighbours(cell);
  if (watered(cell, last ? last[0] - 3600 : now - 86400)) {
    if (last) return value - last[1] > moved ? sentence("watered", { written, before, ago: ago(hours) }) : "";
    return middle !== null && value - middle > slips.strange ? sentence("stronger", { written, middle: middle.toFixed(3) }) : "";
  }
  if (last && apart(value, last[1]) > moved) return sentence("fast", { written, before, ago: ago(hours) });
  if (last && apart(value, last[1]) <= slips.before) return "";
  return middle === null || apart(value, middle) <= slips.strange ? "" : sentence("apart", { written, middle: middle.toFixed(3) });
}

function showWalk() {
  localStorage.setItem(DRAFT, JSON.stringify(walk));
  const done = cells.filter((cell) => walk.values[cell] !== undefined).length;
  const ended = walk.at >= cells.length;
  const cell = cells[Math.max(0, Math.min(walk.at, cells.length - 1))];
  say("reading-label", walk.at === WARMTH ? `How warm is the acid? [${degreeUnit()}]` : ended ? `All ${cells.length} cells done` : `Block ${cell.slice(0, cell.lastIndexOf("."))}, cell ${cell.slice(cell.lastIndexOf(".") + 1)}`);
  input.disabled = ended;
  for (const one of byId("pad").querySelectorAll("[data-only]")) one.hidden = (one.dataset.only === "warmth") !== (walk.at === WARMTH);
  const before = hand && hand.cells[cell] ? hand.cells[cell].at(-1) : null;
  if (!input.value) {
    const words = walk.at === WARMTH ? `Every gravity is corrected by it: ${degreeUnit() === "°F" ? "10 °F are 0.004" : "10 °C are 0.007"}. Without it the sheet stays uncorrected and counts for no verdict.` : `${done} of ${cells.length} read, ${warmthWords()}.${!ended && before ? ` Last time ${before[1] === null ? before[2] : before[1].toFixed(3)}.` : ""}`;
    say("reading-note", words);
  }
  byId("send-gravity").disabled = !done;
  renew(
    byId("sheet"),
    el("button", { type: "button", class: "chip acid", "aria-pressed": String(walk.at === WARMTH), onclick: () => go(WARMTH) }, `Acid: ${warmthWords()}`),
    ...bank.strings.map((string, number) =>
      el(
        "div",
        { class: "string" },
        el("h3", {}, bank.strings.length > 1 ? `String ${number + 1}` : "String"),
        el("div", { class: "blocks" }, ...string.map((block) => el("div", { class: "block" }, el("h4", {}, block.label), el("div", { class: "chips" }, ...chips(block))))),
      ),
    ),
  );
}

const warmthWords = () => (walk.warmth === undefined ? "temperature not asked yet" : walk.warmth === null ? "no temperature, uncorrected" : temperature(walk.warmth));

function chips(block) {
  return Array.from({ length: block.cells }, (_, number) => {
    const cell = `${block.label}.${number + 1}`;
    const value = walk.values[cell];
    return el(
      "button",
      {
        type: "button",
        class: "chip",
        "aria-label": `${cell}: ${value === undefined ? "not read" : value}`,
        "aria-pressed": String(cells[walk.at] === cell),
        onclick: () => go(cells.indexOf(cell)),
      },
      value === undefined ? `${number + 1}` : value,
    );
  });
}

function go(place) {
  walk.at = Math.max(WARMTH, Math.min(place, cells.length));
  input.value = "";
  doubted = unread = "";
  showWalk();
  if (!input.disabled && matchMedia("(pointer: fine)").matches) input.focus();
}

function takeWarmth(text) {
  const value = number(text);
  const warmth = value === null ? null : celsius(value);
  if (warmth === null || warmth < -30 || warmth > 70) {
    unread = text;
    say("reading-note", `${text || "Nothing"} is no temperature of acid in ${degreeUnit()}; without a thermometer press its button.`);
    return;
  }
  walk.warmth = warmth;
  echo("Acid", temperature(warmth));
  go(Math.max(0, cells.findIndex((cell) => walk.values[cell] === undefined)));
}

function take(text) {
  if (walk.at === WARMTH) return takeWarmth(text);
  const gravity = gravityOf(text);
  if (gravity === undefined) {
    unread = text;
    say("reading-note", text.trim() ? `${noGravity(text)}.` : "Nothing is typed yet.");
    return;
  }
  const why = doubted === text ? "" : doubt(gravity);
  if (why) {
    doubted = text;
    input.value = text;
    say("reading-note", `${why}. Next takes it as it is; ⌫ corrects it.`);
    byId("reading-note").dataset.level = "permit";
    buzz([60, 60, 60]);
    return;
  }
  const cell = cells[walk.at];
  if (wiped) {
    wiped = null;
    say("clear-gravity", "Start over");
  }
  walk.values[cell] = text.trim();
  echo(cell, typeof gravity === "number" ? gravity.toFixed(3) : text.trim());
  go(walk.at + 1);
}

// The value just taken, large; felt and, where it is wanted, heard.
function echo(where, value) {
  say("taken", "");
  byId("taken").replaceChildren(el("span", {}, where), " ", el("b", {}, value));
  byId("reading-note").dataset.level = "safe";
  buzz(40);
  if (byId("speak").checked && "speechSynthesis" in window) {
    speechSynthesis.cancel();
    speechSynthesis.speak(new SpeechSynthesisUtterance(`${where.replace(".", " cell ")}: ${value}`));
  }
}

function buzz(pattern) {
  if (navigator.vibrate && navigator.userActivation && navigator.userActivation.hasBeenActive) navigator.vibrate(pattern);
}

function type(character) {
  if (input.disabled) return;
  input.value = unread && unread === input.value ? character : input.value + character;
  unread = "";
  if (walk.at !== WARMTH && WHOLE.test(input.value.trim())) take(input.value);
}

function back() {
  if (input.value) {
    input.value = input.value.slice(0, -1);
    doubted = "";
    return;
  }
  if (walk.at <= 0) return go(WARMTH);
  walk.at -= 1;
  delete walk.values[cells[walk.at]];
  go(walk.at);
}

const pad = (name, label, act, only) => el("button", { type: "button", "aria-label": label, "data-only": only, onclick: act }, name);
const digit = (name) => pad(name, name, () => type(name));
const word = (name) => pad(name, name, () => !input.disabled && take(name), "cells");
byId("pad").append(
  ...["1", "2", "3"].map(digit),
  pad("⌫", "Undo: last digit, or the last cell", back),
  ...["4", "5", "6"].map(digit),
  word("low"),
  pad("−", "minus", () => type("-"), "warmth"),
  ...["7", "8", "9"].map(digit),
  word("high"),
  el("span", { "data-only": "warmth" }),
  pad(".", "point", () => type(".")),
  digit("0"),
  word("none"),
  pad("skip", "Skip this cell", () => go(walk.at + 1), "cells"),
  el("button", { type: "button", class: "wide", "data-only": "warmth", onclick: () => {
    walk.warmth = null;
    go(0);
  } }, "No thermometer"),
  el("button", { type: "button", class: "first wide", onclick: () => !input.disabled && take(input.value) }, "Next"),
);
input.addEventListener("input", () => walk.at !== WARMTH && WHOLE.test(input.value.trim()) && take(input.value));
input.addEventListener("keydown", (event) => {
  if (event.key === "Enter") take(input.value);
  else if (event.key === "Backspace" && !input.value) back();
  else return;
  event.preventDefault();
});
byId("send-gravity").addEventListener("click", () => {
  // Whatever is strange was asked about on the pad, from a closer limit than the rules': it is meant.
  keep({ kind: "gravity", values: walk.values, temperature: walk.warmth ?? null, sure: true });
  say("taken", ""); // what waits and what was sent is said by the queue alone
  walk = { at: WARMTH, values: {} };
  go(WARMTH);
});
byId("clear-gravity").addEventListener("click", () => {
  const done = Object.keys(walk.values).length;
  if (wiped && !done) {
    walk = wiped;
    wiped = null;
    say("clear-gravity", "Start over");
    go(walk.at);
    return;
  }
  if (!done) return go(WARMTH);
  sure("Start over?", [`${done} ${done === 1 ? "reading is" : "readings are"} not sent yet and leave the sheet.`, "They can be brought back until the next one is taken."], "Start over", () => {
    wiped = walk;
    walk = { at: WARMTH, values: {} };
    say("taken", "");
    say("clear-gravity", "Bring them back");
    go(WARMTH);
  });
});

function sure(title, lines, words, act) {
  const box = el("dialog", { "aria-label": title }, el("h2", {}, title), ...lines.map((line) => el("p", {}, line)));
  const end = (then) => () => {
    box.close();
    box.remove();
    if (then) then();
  };
  box.append(el("p", {}, el("button", { type: "button", class: "first", onclick: end(act) }, words), " ", el("button", { type: "button", autofocus: true, onclick: end(null) }, "Leave it")));
  box.addEventListener("close", () => box.remove());
  document.body.append(box);
  box.showModal();
}

function number(text) {
  const value = Number(text.trim().replace(",", "."));
  return text.trim() && Number.isFinite(value) ? value : null;
}

// ---------------------------------------------------------------------------------- other entries

for (const select of document.querySelectorAll(".places, .blocks-only")) {
  select.append(el("option", { value: "" }, select.dataset.all));
  if (select.className === "places") for (const cell of cells) select.append(el("option", { value: cell }, cell));
  else {
    for (const block of bank.strings.flat()) select.append(el("option", { value: block.label }, `block ${block.label}`));
    bank.strings.forEach((_, place) => select.append(el("option", { value: `#${place + 1}` }, `string ${place + 1}`)));
  }
}

function form(id, make) {
  byId(id).addEventListener("submit", (event) => {
    event.preventDefault();
    const fields = Object.fromEntries(new FormData(event.target));
    const made = make(fields, event.target);
    if (typeof made === "string") queue.tell(made);
    else if (made) {
      keep(made);
      event.target.reset();
    }
  });
}

const NO_NUMBER = "That is no number.";
// A number, made of it what its form means; with a unit behind it the bridge reads it as it is written.
const WITH_UNIT = /^[-+]?\d[\d.,/ ]*[a-z°]/i;
function read(text, bare) {
  const value = number(text);
  if (value !== null) return bare(value);
  return WITH_UNIT.test(text.trim()) ? text.trim() : null;
}
form("form-water", ({ where, amount, note }) => {
  const water = read(amount, (value) => `${value} ${site.poured}`);
  return water === null ? NO_NUMBER : { kind: "water", values: { [where]: water }, note };
});
form("form-level", ({ where, what }) => ({ kind: "level", values: where ? { [where]: what } : Object.fromEntries(cells.map((cell) => [cell, what])) }));
form("form-seen", ({ where, white, gas, words }) => {
  const seen = [white === "0" ? "clean" : `sulfated ${white} of 4`, `gassing ${gas}`];
  return { kind: "seen", values: { [where]: seen.join(", ") }, note: words };
});
form("form-measured", ({ kind, where, amount }) => {
  const value = read(amount, (bare) => (kind === "temperature" ? celsius(bare) : bare));
  const place = where.startsWith("#") ? where.slice(1) : where;
  if (value === null) return NO_NUMBER;
  if (kind === "string_amps" && !where.startsWith("#")) return "Choose which string.";
  if (kind !== "string_amps" && where.startsWith("#")) return "Only amps belong to a string.";
  return { kind, values: { [place]: value } };
});
form("form-charger", ({ volts, amps }) => {
  const [volt, amp] = [volts, amps].map((text) => read(text, (value) => value));
  return volt === null || (amp === null && amps.trim()) ? NO_NUMBER : { kind: "charger", values: amp === null ? { volts: volt } : { volts: volt, amps: amp } };
});
form("form-note", ({ note }) => ({ kind: "note", note }));
for (const button of document.querySelectorAll(".undo")) {
  button.addEventListener("click", () => {
    const kind = button.dataset.kind || byId("form-measured").elements.kind.value;
    if (kind !== "gravity") return keep({ kind, undo: true });
    // A whole sheet is hours of work: it asks.
    const last = hand && hand.entries.find((entry) => entry.kind === "gravity");
    return sure("Take back the last sheet?", [last ? `${Object.keys(last.values).length} cells, taken ${moment(last.taken_at)}${last.by ? ` by ${last.by}` : ""}, leave the record.` : "The newest sheet leaves the record."], "Take it back", () => keep({ kind, undo: true }));
  });
}

// ---------------------------------------------------------------------------------- checklist and acts

const checks = byId("checks");
for (const [name, words] of site.checklist) checks.append(el("li", {}, el("label", {}, el("input", { type: "checkbox", name }), " ", el("span", {}, owned(words)))));
const confirmList = byId("form-checklist").querySelector("button");
checks.addEventListener("change", () => {
  confirmList.disabled = checks.querySelectorAll("input:not(:checked)").length > 0;
});
byId("form-checklist").addEventListener("submit", async (event) => {
  event.preventDefault();
  if (!who.by) {
    openWho("The list is confirmed by name: enter yours first.");
    return;
  }
  if (await acts.run("checklist", { name: who.by })) {
    event.target.reset();
    confirmList.disabled = true;
  }
});

byId("checklist-back").addEventListener("click", () =>
  sure("Take the checklist back?", [`${view.lock.checklist_by} confirmed it.`, "No relay closes before it is confirmed anew; one that is closed by it opens."], "Take it back", () => acts.run("checklist", { undo: true, name: who.by })),
);

const acts = new Acts(site, bank, () => view, (words, refusedToken) => {
  if (refusedToken) openWho("The token is missing or wrong.");
  say("act-note", words);
  undoable = "";
  queue.tell(words);
});
byId("acts").append(...acts.buttons());

// ---------------------------------------------------------------------------------- who

function openWho(words, point = true) {
  byId("who").open = true;
  say("who-note", words);
  if (point) byId("form-who").elements[who.by ? "token" : "by"].focus();
}
byId("form-who").elements.by.value = who.by;
byId("form-who").addEventListener("submit", async (event) => {
  event.preventDefault();
  who.keep(event.target.elements.by.value.trim(), event.target.elements.token.value.trim());
  event.target.elements.token.value = "";
  await checkToken();
  queue.flush();
});
byId("forget").addEventListener("click", () => {
  who.forget();
  say("who-note", "The token is forgotten on this device.");
});

async function checkToken() {
  if (!site.writable) {
    openWho("This bridge has no token configured: the page only shows. Entries wait on this device.", false);
    return;
  }
  if (!who.token) {
    openWho("Enter the bridge's token once; without it nothing can be changed.", false);
    byId("kept").before(byId("who")); // asked before the sheet, not after it
    return;
  }
  try {
    const answer = await post("/api/token", {});
    if (answer.ok) say("who-note", "The token is right.");
    else openWho("The token is wrong.");
  } catch {
    say("who-note", "Kept; there is no connection to try it.");
  }
}

// ---------------------------------------------------------------------------------- news

function showBank(told) {
  view = told;
  showAnswer(told.safe);
  const cause = told.flags.find((flag) => told.unsafe.includes(flag.name));
  const fire = told.lock.burning === "fire";
  const out = fire ? "Get everybody out and call the fire service from outside. " : told.lock.out_until > told.at ? "Leave the room and let nobody in. " : "";
  const aid = told.lock.first_aid ? `${told.lock.first_aid} ` : "";
  say("standing", aid + out + (cause && told.safe !== "not-yet" ? `${cause.name.replaceAll("-", " ")}${cause.reason ? `: ${owned(cause.reason)}` : ""}${besides(told, cause.name)}.` : owned(told.standing)));
  say("air", told.gas ? `${owned(told.gas)} Charger off before you open a cell.` : "");
  const lock = told.lock;
  say("checked", lock.checklist_by ? `Confirmed by ${lock.checklist_by}.` : lock.latched.length ? "Not while a trip stands: nobody walks round before its reset." : "Not confirmed yet. Tick every line at the bank, then confirm by name.");
  byId("checklist-back").hidden = !lock.checklist_by;
  const state = [
    lock.latched.length ? `Tripped by ${lock.latched.map((latch) => latch.name).join(", ")}.${lock.no_reset ? ` No reset yet: ${owned(lock.no_reset)}.` : ""}` : null,
    lock.exhausted ? "Charging was stopped too often today and waits for a person." : null,
    lock.needs_resume && !lock.latched.length ? (lock.noted ? `Noted: ${lock.noted}; charging comes back only by a resume, once it is noted gone and nobody is at the posts.` : `Reset; resume is still to be given${lock.no_resume ? `, but not yet: ${owned(lock.no_resume)}` : ""}.`) : null,
    lock.started ? `A round is under way${told.phase === "idle" ? ", and charging has not begun" : `: ${told.where}`}.` : "No round is started.",
    bank.relay ? `Relay ${told.relay}, charging ${told.charge_allowed ? "allowed" : "not allowed"}.` : "This bank is only watched.",
  ];
  say("round-now", state.filter(Boolean).join(" "));
  const tripped = lock.latched.length > 0; // first the reset: nothing that begins is offered before it
  const none = { prove: !bank.relay || tripped, "prove-auto-off": !bank.auto_off || tripped, start: tripped, test: tripped, zero: tripped, reset: (!tripped && !lock.exhausted) || lock.out_until > told.at, resume: tripped || (lock.needs_resume && lock.no_resume) };
  for (const button of byId("acts").children) button.disabled = Boolean(none[button.dataset.act]);
  tab(told, `bench, ${site.chosen}`);
  reveal();
}

const SPOKEN_KINDS = { string_amps: "amps of strings", ac_amps: "amps at the charger's outlet" };

function showHand(told) {
  hand = told;
  showWalk();
  byId("entries").replaceChildren(
    ...told.entries.map((entry) => {
      const named = (where) => (entry.kind === "charger" ? "" : entry.kind === "string_amps" ? `string ${where}` : where);
      const values = Object.entries(entry.values).slice(0, 40).map(([where, value]) => (named(where) && !String(value).startsWith(`${where} `) ? `${named(where)} ${value}` : `${value}`));
      // As a person says it: "charger off", and no name of the bus.
      const what = entry.kind === "charger" ? [`charger ${values.join(", ")}`] : [SPOKEN_KINDS[entry.kind] || entry.kind, values.join(", ")];
      const words = [...what, entry.temperature === null ? null : temperature(entry.temperature), entry.note, entry.by ? `by ${entry.by}` : null];
      const said = words.filter(Boolean).join("; ");
      const gone = { kind: entry.kind, undo: true, entry: entry.taken_at, values: Object.fromEntries(Object.keys(entry.values).map((where) => [where, ""])) };
      const back = () => sure("Take this entry back?", [`${moment(entry.taken_at)} ${said}`, "It leaves the record. A trip that it made stands until somebody resets it."], "Take it back", () => keep(gone));
      return el("li", {}, el("time", {}, moment(entry.taken_at)), " ", said, " ", el("button", { type: "button", "aria-label": `Take back ${entry.kind} of ${moment(entry.taken_at)}`, onclick: back }, "Take back"));
    }),
  );
}

listen({
  open: () => queue.flush(),
  bank: (told) => (told.bank === site.chosen ? showBank(told) : tab(told, "", false)),
  hand: (told) => told.bank === site.chosen && showHand(told),
  silent: () => view && showAnswer(view.safe),
});
showWalk();
await checkToken();
// Led here from a chore: its sheet stands open.
const led = byId({ level: "sheet-water", who: "who" }[location.hash.slice(1)] || `sheet-${location.hash.slice(1)}`);
if (led && location.hash) {
  led.open = true;
  led.scrollIntoView();
}
document.documentElement.dataset.ready = "yes";
