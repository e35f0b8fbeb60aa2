// One rig as it was last seen, and how its time has gone on since.

import { t } from "./words.js";

const KEPT = 12;

// Alarms that say that a forecast has come true: beside "Stop" no "stop in 0–7 min" may stand.
const COME_TRUE = {
  "plateau-reached": "plateau",
  "over-beaten": "plateau",
  "melt-onset": "melt-onset",
  "rest-over": "rest-over",
};
const isOver = ({ next, alarms }) =>
  alarms?.some(({ code, state }) => COME_TRUE[code] === next?.event && state.endsWith("acknowledged"));

/**
 * Bath or mix as it is shown: what its probe reads, while that is well; else what the program
 * makes of it, which it also says while it knows of none.
 */
export function shownC(picture, place) {
  const fit = picture?.[place]?.c ?? null;
  const probe = picture?.probes?.find((one) => one.place === place && one.quality === "good");
  return fit === null ? null : (probe?.value_c ?? fit);
}

export class Rig {
  constructor(id, virtual) {
    this.id = id;
    this.virtual = virtual;
    this.picture = undefined;
    this.seenAt = 0;
    this.heard = false;
    this.steps = [];
    this.readings = new Map();
  }

  see(picture) {
    if (picture.run !== this.picture?.run) {
      this.steps = [];
      this.readings.clear();
    }
    for (const probe of picture.probes ?? []) {
      // A picture made for an alarm has the figures of the last whole second.
      const reading = this.readings.get(probe.name);
      if (reading && reading.at > picture.at - probe.age_s) probe.value_c = reading.c;
    }
    this.picture = isOver(picture) ? { ...picture, next: null } : picture;
    this.virtual = picture.virtual;
    this.seenAt = Date.now();
    this.steps.push([picture.at ?? 0, this.seenAt]);
    if (this.steps.length > KEPT) this.steps.shift();
  }

  /** Takes in a reading before its second is over; whether it is one that is shown. */
  read(reading) {
    this.readings.set(reading.probe, reading);
    const probe = this.picture?.probes?.find(({ name }) => name === reading.probe);
    if (!probe || probe.value_c === reading.c) return false;
    probe.value_c = reading.c;
    return true;
  }

  /** Seconds of the run in a second here: 1, but for a virtual rig that is shown faster. */
  rate() {
    const [first, last] = [this.steps[0], this.steps.at?.(-1) ?? this.steps[this.steps.length - 1]];
    if (!this.virtual || !first || last[1] - first[1] < 2000) return 1;
    const rate = (1000 * (last[0] - first[0])) / (last[1] - first[1]);
    return rate > 1.3 ? rate : 1;
  }

  /** Run time now [s], going on by itself between pictures and while none comes. */
  runTime() {
    if (!this.picture) return 0;
    return (this.picture.at ?? 0) + (this.rate() * (Date.now() - this.seenAt)) / 1000;
  }

  /**
   * What fell due while nothing was heard since `lostAt`: an alarm of the page's own, until
   * somebody has answered it here; null if nothing did.
   */
  overdue(lostAt) {
    const next = this.picture?.next;
    const due = next?.p50 ?? next?.p10;
    if (this.heard || due === null || due === undefined || this.runTime() < due) return null;
    return {
      code: "cut-off",
      at: lostAt,
      priority: "high",
      verb: t("Look into the bowl"),
      reason: t("Nothing is heard from the program, and by its last word this was due about now: {what}.", {
        what: next.text,
      }),
    };
  }
}
