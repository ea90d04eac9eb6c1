// Gravity and capacity over the years: every sheet, every capacity test, every round that the journal knows.
import { byId, day, el, need } from "./common.js";

const SVG = "http://www.w3.org/2000/svg";
const [LEFT, RIGHT, GRAVITY, CAPACITY] = [46, 8, 130, 90]; // margins and heights [px]
const dated = (at) => `${day(at)} ${new Date(at * 1000).getFullYear()}`;

function part(tag, attributes, words) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  if (words) element.textContent = words;
  return element;
}

export class Years {
  constructor(site, bank) {
    Object.assign(this, { site, bank, told: null });
    new ResizeObserver(() => this.draw()).observe(byId("years-picture"));
  }

  async show() {
    this.told = await need(`/api/years/${encodeURIComponent(this.site.chosen)}`, "the years");
    byId("years").hidden = this.told.sheets.length < 2 && !this.told.tests.length;
    this.draw();
    this.table();
  }

  // Per cent of the rating; where the test's own judgement is no longer kept, what it delivered, uncorrected.
  percent([, delivered, percent]) {
    return percent ?? (typeof delivered === "number" ? (100 * delivered) / this.bank.capacity : null);
  }

  draw() {
    const width = byId("years-picture").clientWidth;
    if (!this.told || byId("years").hidden || width < 100) return;
    const { sheets, tests, rounds, now } = this.told;
    const first = Math.min(...[...sheets, ...tests, ...rounds].map(([at]) => at));
    const x = (at) => LEFT + ((width - LEFT - RIGHT) * (at - first)) / Math.max(1, now - first);
    const height = 20 + GRAVITY + 32 + CAPACITY + 22;
    const picture = part("svg", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" });
    for (const [from, to] of rounds) picture.append(part("rect", { class: "round", x: x(from), y: 16, width: Math.max(2, x(to) - x(from)), height: height - 38 }));
    const ticks = (top, tall, low, high, values, digits) => {
      const y = (value) => top + tall - (tall * (value - low)) / (high - low);
      for (const value of values) {
        picture.append(part("line", { class: "grid", x1: LEFT, x2: width - RIGHT, y1: y(value), y2: y(value) }), part("text", { x: LEFT - 5, y: y(value) + 4, "text-anchor": "end" }, value.toFixed(digits)));
      }
      return y;
    };
    const least = Math.min(1.2, ...sheets.map((sheet) => Math.floor(sheet[1] * 20) / 20));
    const most = Math.max(1.3, ...sheets.map((sheet) => Math.ceil(sheet[3] * 20) / 20));
    const step = most - least > 0.2 ? 0.1 : 0.05;
    const gravity = ticks(20, GRAVITY, least, most, Array.from({ length: 1 + Math.round((most - least) / step) }, (_, number) => least + step * number), 2);
    picture.append(part("line", { class: "full", x1: LEFT, x2: width - RIGHT, y1: gravity(this.bank.full_gravity), y2: gravity(this.bank.full_gravity) }), part("text", { x: LEFT, y: 11 }, `gravity, lowest to greatest; full is ${this.bank.full_gravity.toFixed(3)}`));
    picture.append(part("polyline", { class: "middle", points: sheets.map((sheet) => `${x(sheet[0])},${gravity(sheet[2])}`).join(" ") }));
    for (const [at, low, middle, high, , corrected] of sheets) {
      picture.append(part("line", { class: corrected ? "sheet" : "sheet loose", x1: x(at), x2: x(at), y1: gravity(low) + 1, y2: gravity(high) - 1 }), part("circle", { class: "sheet", cx: x(at), cy: gravity(middle), r: 3 }));
    }
    const below = 20 + GRAVITY + 32;
    const capacity = ticks(below, CAPACITY, 0, 100, [0, 50, 100], 0);
    const known = tests.filter((test) => this.percent(test) !== null);
    picture.append(part("text", { x: LEFT, y: below - 9 }, known.length ? "capacity, % of the rating" : "capacity: no test yet"));
    picture.append(part("polyline", { class: "middle tested", points: known.map((test) => `${x(test[0])},${capacity(Math.min(100, this.percent(test)))}`).join(" ") }));
    for (const test of known) {
      const [place, y] = [x(test[0]), capacity(Math.min(100, this.percent(test)))];
      picture.append(part("rect", { class: "tested", x: place - 4, y: y - 4, width: 8, height: 8 }), part("text", { x: place, y: y < below + 20 ? y + 18 : y - 8, "text-anchor": place > width - 60 ? "end" : place < LEFT + 20 ? "start" : "middle" }, `${this.percent(test).toFixed(0)} %`));
    }
    const months = now - first > 5e7 ? 12 : now - first > 1e7 ? 3 : 1;
    picture.append(part("text", { x: LEFT, y: height - 4 }, `${day(first).split(" ")[2]} ${new Date(first * 1000).getFullYear()}`));
    let free = LEFT + 70;
    for (let date = new Date(first * 1000), month = date.getMonth() + 1; ; month += 1) {
      const at = new Date(date.getFullYear(), month, 1);
      if (at / 1000 > now) break;
      if (at.getMonth() % months || x(at / 1000) < free) continue;
      picture.append(part("text", { x: x(at / 1000), y: height - 4 }, at.getMonth() ? day(at / 1000).split(" ")[2] : String(at.getFullYear())), part("line", { class: "grid", x1: x(at / 1000), x2: x(at / 1000), y1: 16, y2: height - 18 }));
      free = x(at / 1000) + 40;
    }
    byId("years-picture").replaceChildren(picture);
    byId("years-picture").setAttribute("aria-label", `${sheets.length} sheets and ${known.length} capacity tests since ${dated(first)}. The table below holds them all.`);
  }

  table() {
    const rows = [
      ...this.told.sheets.map(([at, low, middle, high, cells, corrected]) => [at, "gravity", `${low.toFixed(3)} to ${high.toFixed(3)}, middle ${middle.toFixed(3)}, ${cells} cells${corrected ? "" : ", not all corrected"}`]),
      ...this.told.tests.map((test) => [test[0], "capacity", `${this.percent(test) === null ? "not known" : `${this.percent(test).toFixed(0)} % of the rating`}${test[2] === null ? ", as delivered" : ""}`]),
      ...this.told.rounds.map(([from, to]) => [from, "round", `${Math.round((to - from) / 3600)} h`]),
    ].sort((a, b) => b[0] - a[0]);
    byId("years-table").replaceChildren(
      el("table", {}, el("thead", {}, el("tr", {}, ...["when", "what", "result"].map((name) => el("th", { scope: "col" }, name)))), el("tbody", {}, ...rows.map(([at, what, words]) => el("tr", {}, el("th", { scope: "row" }, dated(at)), el("td", {}, what), el("td", {}, words))))),
    );
  }
}
