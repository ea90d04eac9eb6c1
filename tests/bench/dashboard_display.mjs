// What the single values of a dashboard show without data, and that they show the value alone: asked of the dashboard
// server's own code (an npm package), since no such server can be installed in a test. On demand:
//   cd "$(mktemp -d)" && npm install --legacy-peer-deps @grafana/data@11.6.0 react@18 react-dom@18 \
//     && node THIS_FILE PATH/TO/revival.json ...
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

// The package is made for browsers and asks for these when it is loaded.
Object.assign(globalThis, { window: globalThis, document: {}, location: { search: "", href: "http://localhost/" } });
Object.defineProperty(globalThis, "navigator", { value: { language: "en", languages: ["en"] }, configurable: true });
const server = createRequire(`${process.cwd()}/`)("@grafana/data");
const theme = server.createTheme();

function shown(panel, data) {
  const given = { fieldConfig: panel.fieldConfig, replaceVariables: (text) => text, theme, timeZone: "utc" };
  const frames = server.applyFieldOverrides({ ...given, data });
  return server.getFieldDisplayValues({ ...given, reduceOptions: panel.options.reduceOptions, data: frames });
}

let wrong = 0;
for (const file of process.argv.slice(2)) {
  for (const panel of JSON.parse(readFileSync(file)).panels.filter((one) => one.type === "stat")) {
    const none = shown(panel, []);
    const words = panel.options.reduceOptions.fields !== "";
    const value = words ? { name: "_value", type: "string", values: ["open"] } : { name: "_value", type: "number", values: [1] };
    const one = shown(panel, [server.toDataFrame({ fields: [{ name: "Time", type: "time", values: [1] }, value] })]);
    const right = none.length === 1 && none[0].display.text === "NO DATA" && none[0].display.color === "#D55E00" && one.length === 1;
    wrong += !right;
    console.log(`${right ? "right" : "WRONG"}  ${panel.title}: without data ${none[0].display.text} ${none[0].display.color}, else ${one.map((each) => each.display.text).join(" and ")}`);
  }
}
process.exit(wrong ? 1 : 0);
