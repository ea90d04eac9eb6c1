// A person's acts: what each does is spelled out, a person ticks that it may be, then it is asked of the bridge.
import { byId, coded, moment, owned, say, el } from "./common.js";
import { post, who } from "./queue.js";

const ACTS = [
  ["prove", "Prove the relay", ["The relay closes for a moment and is then told to open; what it reports, and the amps, show whether it obeys.", "The charger may run for up to half a minute."], "The charger may run for a moment"],
  ["prove-auto-off", "Prove its auto-off too", ["The relay is told to close once and has to open by itself, then it is proved as usual.", "The charger runs until then, up to a minute longer than the auto-off of the cabin file says; where the relay does not open it is cut at once, and nothing is permitted to charge until it was seen to open by itself."], "The charger may run so long, nobody is at the posts, and somebody is where it can be switched off at the wall"],
  ["start", "Start the round", ["Counters begin anew, and the relay may close: the charger can come on at any moment, now and later, day and night, without another question."], "Nobody is at the posts, and the checklist is done"],
  ["reset", "Reset the trip", [], "I have been there, and what caused it is put right"],
  ["resume", "Resume charging", ["The relay may close: the charger can come on at any moment from now on."], "Nobody is at the posts, and the bank is fit to be charged"],
  ["finish", "Finish the round", ["Charging is no longer allowed, the relay opens, and the bank goes to rest. The hold does not go on."], "The round is to end"],
  ["abandon", "Abandon the round", ["Charging is no longer allowed, the relay opens, and no verdict follows."], "The round is to be given up"],
  ["test", "Begin the capacity test", ["Charging is no longer allowed. Put the load on now; the bridge counts ampere-hours until 1.75 V per cell. Then take the load off and charge at once."], "The load is ready and somebody stays near"],
  ["zero", "Take the present amps as zero", ["What the current meter shows now counts as zero from here on: every ampere-hour depends on it."], "No current flows: charger and loads are off at the wall"],
];

// The same where no relay is: nothing here opens or closes anything, a person does.
const BY_HAND = "No relay is there: the charger runs on until you switch it off yourself.";
const WATCHED = {
  start: ["Counters begin anew. No relay is there: you switch the charger on and off yourself."],
  resume: ["No relay is there: you switch the charger on and off yourself."],
  finish: ["The round ends and the bank goes to rest. The hold does not go on.", BY_HAND],
  abandon: ["The round ends and no verdict follows.", BY_HAND],
  test: ["Switch the charger off first. Put the load on now; the bridge counts ampere-hours until 1.75 V per cell. Then take the load off and charge at once.", BY_HAND],
};

// What the bridge calls an act that is asked in another way here.
const MEANT = { "prove-auto-off": ["prove", { auto_off: true }] };

export class Acts {
  // `view` gives the newest state, `told(words, refusedToken)` hears how it went.
  constructor(site, bank, view, told) {
    Object.assign(this, { site, bank, view, told });
    byId("sure").addEventListener("change", (event) => {
      byId("ask-do").disabled = !event.target.checked;
    });
    byId("ask-no").addEventListener("click", () => byId("ask").close());
    byId("ask-do").addEventListener("click", () => {
      byId("ask").close();
      this.run(byId("ask").dataset.act, this.argument);
    });
  }

  buttons(wanted = ACTS.map(([name]) => name)) {
    return ACTS.filter(([name]) => wanted.includes(name)).map(([name, words, consequences, sure]) =>
      el("button", { type: "button", "data-act": name, onclick: () => this.ask(name, words, consequences, sure) }, words),
    );
  }

  ask(name, words, consequences, sure, argument = {}) {
    this.argument = argument;
    let told = (!this.bank.relay && WATCHED[name]) || consequences;
    const state = this.view();
    if (name === "finish" && !argument.sure && state && state.hold_needed > state.hold_hours) {
      const missing = (state.hold_needed - state.hold_hours).toFixed(1);
      told = [`The hold is not complete: held ${state.hold_hours.toFixed(1)} of ${state.hold_needed.toFixed(0)} h, ${missing} h are missing.`, ...told];
    }
    if (name === "reset") {
      const view = this.view();
      const latched = view ? view.lock.latched : [];
      told = [
        ...latched.map((latch) => `${latch.name} at ${moment(latch.at)}: ${owned(latch.reason)}. ${owned(latch.action)}`),
        latched.length ? "The memory of the trip is cleared; if the cause is still there the reset is refused, and if it comes back it trips again." : "Nothing is tripped.",
        view && view.lock.exhausted ? "Charging was stopped too often today; it is counted anew from now on." : null,
        this.bank.relay ? "The relay stays open. Only a second act, resume, lets the charger come on again." : "No relay is there: the charger runs or stands as you left it.",
      ].filter(Boolean);
    }
    say("ask-title", words);
    byId("ask-words").replaceChildren(...told.map((line) => el("li", {}, ...coded(line))));
    say("sure-words", sure);
    say("ask-do", words);
    byId("sure").checked = false;
    byId("ask-do").disabled = true;
    byId("ask").dataset.act = name;
    byId("ask").showModal();
  }

  // The rules ask back: their reason is shown, and only a second tick sends the act as meant.
  doubt(name, why) {
    const [, words, consequences] = ACTS.find(([each]) => each === name);
    this.told(`${name}: not done yet. ${owned(why)}.`, false);
    this.ask(name, `${words} all the same`, [`${owned(why)}.`, ...consequences], "I know that, and it is meant", { sure: true });
  }

  // Whether it was done. Acts are never kept for later: what was meant now may be wrong then.
  async run(name, argument) {
    const [act, more] = MEANT[name] || [name, {}];
    try {
      const answer = await post(`/api/act/${encodeURIComponent(this.site.chosen)}`, { name: act, argument: { ...more, ...argument }, by: who.by });
      const told = await answer.json();
      if (told.unsure) {
        this.doubt(name, told.unsure);
        return false;
      }
      this.told(answer.ok ? `${name}: done.` : `${name}: refused. ${owned(told.error || told.refused.join("; "))}.`, answer.status === 401);
      return answer.ok;
    } catch {
      this.told(`${name}: not sent, there is no connection. Acts are never kept for later.`, false);
      return false;
    }
  }
}
