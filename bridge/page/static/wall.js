// The four answers for a screen on the wall: read from across the room, never touched.
import { apart, besides, byId, clock, degrees, degreeUnit, headed, hours, listen, moment, openSite, orderLength, owned, say, showAnswer, showTab } from "./common.js";

const TURN = 20000; // with several banks each is shown so long [ms]; one that is not safe stays
const NIGHT = [21, 6]; // from this hour to that one the screen is dark and dim
const WORST = ["no", "unknown", "not-yet", "warm", "yes"];

let begin;
const begun = new Promise((done) => (begin = done));
const views = new Map();
listen({ bank: (told) => {
  views.set(told.bank, told);
  show();
}, silent: () => chosen() && showAnswer(chosen().safe) }, begun);
const site = await openSite();
const fixed = new URLSearchParams(location.search).get("bank");
let turn = 0;

function chosen() {
  if (fixed) return views.get(site.chosen);
  const known = site.names.map((name) => views.get(name)).filter(Boolean);
  const worst = WORST.find((word) => known.some((view) => view.safe === word));
  const shown = worst === "no" ? known.filter((view) => view.safe === "no") : known;
  return shown[turn % Math.max(1, shown.length)];
}

function show() {
  const view = chosen();
  if (!view) return;
  say("bank", headed(view.bank));
  showAnswer(view.safe);
  say("cause", cause(view));
  say("gas", gas(view));
  say("phase", view.where.replace(/, phase not known yet$/, "").replace("standing still", "stopped"));
  say("hours", view.remaining_hours === null ? (view.remaining_reason === "no round" ? "no round" : "not known") : `${hours(view.remaining_hours)} h`);
  const text = owned(view.next_step || "Nothing.");
  say("next", text.slice(0, orderLength(text)).replaceAll("`", "")); // its reasons are on the page
  showTab(view.safe, view.bank);
  fit();
}

// What the nose cannot tell from across the room: gas is made, or is still in the air.
function gas(view) {
  if (!view.gas) return "";
  if (!view.gas_goes_on) return `Gas until ${moment(60 * Math.ceil(view.safe_to_approach_at / 60))}`; // never a minute too early
  return view.amounts.air ? `Gas: air ${view.amounts.air.replace(" ", "\u00a0")}` : "Gas: no spark";
}

// The worst of it, with what was measured and where the limit lies.
function cause(view) {
  if (view.safe === "yes") return "";
  if (view.safe === "not-yet") return owned(view.safe_why);
  if (view.lock.first_aid) return view.lock.burning === "fire" ? "Fire: everybody out, first aid" : "First aid outside, call the emergency service";
  if (view.lock.burning === "fire") return "Fire: everybody out, call the fire service";
  if (view.lock.out_until > view.at) return "Leave the room, let nobody in";
  const flag = view.flags.find((one) => (view.safe === "warm" ? one.name.startsWith("temperature") : view.unsafe.includes(one.name)));
  if (!flag && view.safe === "no" && view.safe_why) return owned(view.safe_why);
  if (!flag) return view.lock.latched.length ? view.lock.latched[0].name.replaceAll("-", " ") : owned(view.standing).replace(/^Not known: /, "").split(/[,.] /)[0];
  const figure = (value) => {
    if (flag.unit === "degC") return `${Number(degrees(value).toFixed(1))}\u00a0${degreeUnit()}`;
    if (flag.unit === "K" || flag.unit === "K/h") return `${Number(apart(value).toFixed(1))}\u00a0${degreeUnit()}${flag.unit.slice(1)}`;
    return `${Number(value.toPrecision(3))}\u00a0${flag.unit}`;
  };
  const measured = flag.value === null ? "" : `: ${figure(flag.value)}${flag.limit === null ? "" : `, limit ${figure(flag.limit)}`}`;
  return `${flag.name.replaceAll("-", " ")}${measured}${besides(view, flag.name)}`;
}

// Long words shrink to their field, and no further than can be read.
const SMALLEST = 0.55; // of their size: five arc minutes from three metres
const LEAST = 4.6; // the same of where and how long [vh]: "absorbing, stopped" is whole on a screen of four by three
const FEW_LINES = 0.8;
function fit() {
  const order = byId("next");
  for (let size = 1; size >= SMALLEST; size -= 0.05) {
    order.style.fontSize = order.style.webkitLineClamp = "";
    if (size < FEW_LINES) order.style.webkitLineClamp = "none"; // small words may take every line that there is room for
    if (size < 1) order.style.fontSize = `${size * parseFloat(getComputedStyle(order).fontSize)}px`;
    if ([order, order.closest("section")].every((one) => one.scrollHeight <= one.clientHeight + 1)) break;
  }
  for (const id of ["phase", "hours"]) {
    const place = byId(id);
    place.style.fontSize = "";
    if (place.scrollWidth > place.clientWidth) place.style.fontSize = `${Math.max(LEAST, (10 * place.clientWidth) / place.scrollWidth)}vh`;
  }
}

// A turned screen, and a line that says "no connection", leave it another room.
new ResizeObserver(fit).observe(byId("now"));

function tick() {
  const now = new Date();
  const dark = now.getHours() >= NIGHT[0] || now.getHours() < NIGHT[1];
  document.documentElement.classList.toggle("night", dark);
  say("clock", clock(now.getTime() / 1000));
  // A few pixels to and fro, so that nothing burns into the screen.
  document.body.style.paddingLeft = `calc(1.5vw + ${now.getMinutes() % 5}px)`;
}

begin();
show();
tick();
setInterval(tick, 10000);
setInterval(() => {
  turn += 1;
  show();
}, TURN);
// Where the page came encrypted the screen can be kept awake; elsewhere the tablet's own setting does it.
if (navigator.wakeLock) navigator.wakeLock.request("screen").catch(() => {});
document.documentElement.dataset.ready = "yes";
