// At the bench: gravities with a number pad, what was added and seen, the checklist, and the round's acts.
import { SAFE, byId, celsius, degreeUnit, el, listen, moment, openSite, owned, say, tab, temperature } from "./common.js";
import { Acts } from "./act.js";
import { Queue, post, who } from "./queue.js";

const site = await openSite();
const bank = site.banks[site.chosen];
const cells = bank.strings.flat().flatMap((block) => Array.from({ length: block.cells }, (_, cell) => `${block.label}.${cell + 1}`));
const DRAFT = `revival.draft.${site.chosen}`;
let view = null;
let hand = null;

say("bank", `Bench: bank ${site.chosen}`);
document.title = `Bench, ${site.chosen}`;
for (const caution of site.cautions) byId("cautions").append(el("li", {}, owned(caution)));
for (const unit of document.querySelectorAll(".degree")) unit.textContent = degreeUnit();

// ---------------------------------------------------------------------------------- the queue

const queue = new Queue((waiting, refused, words) => {
  say("queue", waiting ? `${waiting} ${waiting === 1 ? "entry waits" : "entries wait"} to be sent. ${words}` : words);
  byId("queue").dataset.level = waiting ? "permit" : "safe";
  byId("failed").replaceChildren(
    ...refused.map((item) =>
      el(
        "li",
        { "data-level": "hazard" },
        el("p", {}, `${item.record.kind} of ${moment(item.record.taken_at)} was not taken: ${item.refused}.`),
        el("p", { class: "faint" }, JSON.stringify(item.record.values || item.record.note)),
        el("button", { type: "button", onclick: () => queue.again(item.record.key) }, "Send again"),
        " ",
        el("button", { type: "button", onclick: () => queue.drop(item.record.key) }, "Drop it"),
      ),
    ),
  );
});
const keep = (record) => queue.add(site.chosen, record);

// ---------------------------------------------------------------------------------- gravities

const WHOLE = /^1[.,]?\d{3}$/;
let walk = JSON.parse(localStorage.getItem(DRAFT) || "null") || { at: 0, values: {} };
const input = byId("reading");

// The bridge has the last word; this says the same at once.
function understood(text) {
  const written = text.trim().toLowerCase();
  if (["low", "high", "none"].includes(written)) return true;
  const found = /^(?:sg\s*)?(\d{1,4}(?:[.,]\d+)?)\s*(°?\s*b(?:[eé]|aum[eé])\.?)?$/.exec(written);
  if (!found) return false;
  const number = Number(found[1].replace(",", "."));
  const baume = found[2] !== undefined || (number >= 10 && number <= 45);
  const gravity = baume ? 145 / (145 - Math.min(number, 70)) : number >= 1000 ? number / 1000 : number;
  return gravity >= 1 && gravity <= 1.4;
}

function showWalk() {
  localStorage.setItem(DRAFT, JSON.stringify(walk));
  const done = cells.filter((cell) => walk.values[cell] !== undefined).length;
  const ended = walk.at >= cells.length;
  const cell = cells[Math.min(walk.at, cells.length - 1)];
  say("reading-label", ended ? `All ${cells.length} cells done` : `Block ${cell.slice(0, cell.lastIndexOf("."))}, cell ${cell.slice(cell.lastIndexOf(".") + 1)}`);
  input.disabled = ended;
  const before = hand && hand.cells[cell] ? hand.cells[cell].at(-1) : null;
  if (!input.value) say("reading-note", `${done} of ${cells.length} read.${!ended && before ? ` Last time ${before[1] === null ? before[2] : before[1].toFixed(3)}.` : ""}`);
  byId("send-gravity").disabled = !done;
  byId("sheet").replaceChildren(
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
  walk.at = Math.max(0, Math.min(place, cells.length));
  input.value = "";
  showWalk();
  if (!input.disabled) input.focus();
}

function take(text) {
  if (!understood(text)) {
    say("reading-note", `${text || "Nothing"} is no gravity from 1.000 to 1.400; write 1265, 1.265, 30.4 Be, low, high or none.`);
    return;
  }
  walk.values[cells[walk.at]] = text.trim();
  go(walk.at + 1);
}

function type(character) {
  if (input.disabled) return;
  input.value += character;
  if (WHOLE.test(input.value.trim())) take(input.value);
}

function back() {
  if (input.value) {
    input.value = input.value.slice(0, -1);
    return;
  }
  if (walk.at === 0) return;
  walk.at -= 1;
  delete walk.values[cells[walk.at]];
  go(walk.at);
}

const pad = (name, label, act) => el("button", { type: "button", "aria-label": label, onclick: act }, name);
byId("pad").append(
  ...["1", "2", "3", "4", "5", "6", "7", "8", "9"].map((digit) => pad(digit, digit, () => type(digit))),
  pad(".", "point", () => type(".")),
  pad("0", "0", () => type("0")),
  pad("⌫", "Undo: last digit, or the last cell", back),
  ...["low", "high", "none"].map((word) => pad(word, word, () => !input.disabled && take(word))),
  pad("skip", "Skip this cell", () => go(walk.at + 1)),
  el("button", { type: "button", class: "first wide", onclick: () => !input.disabled && take(input.value) }, "Next"),
);
input.addEventListener("input", () => WHOLE.test(input.value.trim()) && take(input.value));
input.addEventListener("keydown", (event) => {
  if (event.key === "Enter") take(input.value);
  else if (event.key === "Backspace" && !input.value) back();
  else return;
  event.preventDefault();
});
byId("send-gravity").addEventListener("click", () => {
  const warmth = number(byId("warmth").value);
  if (byId("warmth").value.trim() && warmth === null) {
    say("reading-note", "The temperature is no number.");
    return;
  }
  keep({ kind: "gravity", values: walk.values, temperature: warmth === null ? null : celsius(warmth) });
  walk = { at: 0, values: {} };
  go(0);
});
byId("clear-gravity").addEventListener("click", () => {
  walk = { at: 0, values: {} };
  go(0);
});

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
    if (typeof made === "string") say("queue", made);
    else if (made) {
      keep(made);
      event.target.reset();
    }
  });
}

const NO_NUMBER = "That is no number.";
form("form-water", ({ amount, note }) => {
  const water = number(amount);
  return water === null ? NO_NUMBER : { kind: "water", values: { "": water }, note };
});
form("form-level", ({ where, what }) => ({ kind: "level", values: where ? { [where]: what } : Object.fromEntries(cells.map((cell) => [cell, what])) }));
form("form-seen", ({ where, white, gas, words }) => {
  const seen = [white === "0" ? "clean" : `sulfated ${white} of 4`, `gassing ${gas}`];
  return { kind: "seen", values: { [where]: seen.join(", ") }, note: words };
});
form("form-measured", ({ kind, where, amount }) => {
  const value = number(amount);
  const place = where.startsWith("#") ? where.slice(1) : where;
  if (value === null) return NO_NUMBER;
  if (kind === "string_amps" && !where.startsWith("#")) return "Choose which string.";
  if (kind !== "string_amps" && where.startsWith("#")) return "Only amps belong to a string.";
  return { kind, values: { [place]: kind === "temperature" ? celsius(value) : value } };
});
form("form-charger", ({ volts, amps }) => {
  const [volt, amp] = [number(volts), number(amps)];
  return volt === null ? NO_NUMBER : { kind: "charger", values: amp === null ? { volts: volt } : { volts: volt, amps: amp } };
});
form("form-note", ({ note }) => ({ kind: "note", note }));
for (const button of document.querySelectorAll(".undo")) {
  button.addEventListener("click", () => keep({ kind: button.dataset.kind, undo: true }));
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

const acts = new Acts(site, bank, () => view, (words, refusedToken) => {
  if (refusedToken) openWho("The token is missing or wrong.");
  say("act-note", words);
  say("queue", words);
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
  byId("safe").dataset.safe = told.safe;
  say("level", SAFE[told.safe]);
  say("standing", owned(told.standing));
  const gas = told.safe_to_approach_at && told.safe_to_approach_at > told.at;
  say("air", gas ? `Gas: no tools or sparks at the posts before ${moment(told.safe_to_approach_at)}. Charger off before you open a cell.` : "");
  const lock = told.lock;
  say("checked", lock.checklist_by ? `Confirmed by ${lock.checklist_by}.` : "Not confirmed yet. Tick every line at the bank, then confirm by name.");
  const state = [
    lock.latched.length ? `Tripped by ${lock.latched.map((latch) => latch.name).join(", ")}.` : null,
    lock.exhausted ? "Charging was stopped too often today and waits for a person." : null,
    lock.needs_resume && !lock.latched.length ? "Reset; resume is still to be given." : null,
    lock.started ? `A round is under way: ${told.phase}.` : "No round is started.",
    bank.relay ? `Relay ${told.relay}, charging ${told.charge_allowed ? "allowed" : "not allowed"}.` : "This bank is only watched.",
  ];
  say("round-now", state.filter(Boolean).join(" "));
  const none = { prove: !bank.relay, reset: !lock.latched.length && !lock.exhausted, resume: lock.latched.length > 0 };
  for (const button of byId("acts").children) button.disabled = Boolean(none[button.dataset.act]);
  tab(told, `bench, ${site.chosen}`);
}

function showHand(told) {
  hand = told;
  showWalk();
  byId("entries").replaceChildren(
    ...told.entries.map((entry) => {
      const written = (value) => (entry.kind === "gravity" && typeof value === "number" ? value.toFixed(3) : entry.kind === "temperature" ? temperature(value) : value);
      const values = Object.entries(entry.values).slice(0, 40).map(([where, value]) => `${where ? `${where} ` : ""}${written(value)}`);
      const words = [entry.kind, values.join(", "), entry.temperature === null ? null : temperature(entry.temperature), entry.note, entry.by ? `by ${entry.by}` : null];
      return el("li", {}, el("time", {}, moment(entry.taken_at)), " ", words.filter(Boolean).join("; "));
    }),
  );
}

listen({
  open: () => queue.flush(),
  bank: (told) => (told.bank === site.chosen ? showBank(told) : tab(told, "", false)),
  hand: (told) => told.bank === site.chosen && showHand(told),
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
