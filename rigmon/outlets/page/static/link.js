// The wire to the program: its stream of events, and what is asked and told besides.
//
// The program says something at least once a second. What has said nothing for longer than
// SILENT_MS is gone, whatever the browser believes of its connection.

const SILENT_MS = 2500;
const LOOK_MS = 250;
const PATIENCE_MS = 4000;
const API = "api/v1/";

export class Link {
  /**
   * @param {{picture, rows, reading, lost, back}} hears Called with a picture; with a rig and its
   *   rows; with a reading; with the time since when nothing was heard; and each time that a stream
   *   has begun.
   */
  constructor(hears) {
    this.hears = hears;
    this.heardAt = Date.now();
    this.lost = false;
    this.begun = false;
    this.stream = null;
    this.openedAt = 0;
  }

  start() {
    this.open();
    setInterval(() => this.look(), LOOK_MS);
    for (const event of ["online", "pageshow"]) addEventListener(event, () => this.retry());
    addEventListener("offline", () => this.look());
    document.addEventListener("visibilitychange", () => {
      if (!document.hidden) this.look();
    });
  }

  open() {
    this.stream?.close();
    this.openedAt = Date.now();
    this.begun = false;
    const stream = new EventSource(`${API}stream`);
    this.stream = stream;
    const on = (name, hear) =>
      stream.addEventListener(name, (event) => {
        if (stream !== this.stream) return;
        this.hear();
        hear(event);
      });
    on("picture", (event) => this.hears.picture(JSON.parse(event.data)));
    on("row", (event) => {
      const { rig, rows } = JSON.parse(event.data);
      this.hears.rows(rig, rows);
    });
    on("reading", (event) => this.hears.reading(JSON.parse(event.data)));
    on("beat", () => {});
    stream.addEventListener("bye", () => {
      this.stream?.close();
      this.lose();
    });
    // The browser may join again by itself: what went by meanwhile has to be fetched all the same.
    stream.addEventListener("error", () => {
      if (stream === this.stream) this.begun = false;
    });
  }

  hear() {
    const anew = this.lost || !this.begun;
    this.heardAt = Date.now();
    this.lost = false;
    this.begun = true;
    if (anew) this.hears.back();
  }

  look() {
    const now = Date.now();
    if (now - this.heardAt > SILENT_MS) this.lose();
    if (this.lost) this.retry();
  }

  lose() {
    if (!this.lost) {
      this.lost = true;
      this.hears.lost(this.heardAt);
    }
  }

  /** Tries anew, unless a try that is not yet hopeless is under way. */
  retry() {
    const waited = Date.now() - this.openedAt;
    const dead = this.stream === null || this.stream.readyState === EventSource.CLOSED;
    if (!this.lost && !dead) return;
    if (waited > PATIENCE_MS || (dead && waited > 1000)) this.open();
  }
}

/** Asks for something; null where there is none, unless `refused` wants to hear why. */
export async function ask(path, refused = false) {
  try {
    const answer = await fetch(API + path, { cache: "no-store" });
    return answer.ok || refused ? await answer.json() : null;
  } catch {
    return null;
  }
}

/** Whether an address under the interface has something to show. */
export async function exists(path) {
  try {
    return (await fetch(API + path, { method: "HEAD", cache: "no-store" })).ok;
  } catch {
    return false;
  }
}

/**
 * Tells a mark.
 * @returns {{ok: boolean, text: string}} text is "" where nobody answered.
 */
export async function tell(rig, mark) {
  const stop = new AbortController();
  const late = setTimeout(() => stop.abort(), 5000);
  try {
    const answer = await fetch(`${API}rigs/${encodeURIComponent(rig)}/marks`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ mark }),
      signal: stop.signal,
    });
    const said = await answer.json().catch(() => ({}));
    return { ok: answer.ok && said.ok !== false, text: String(said.text ?? answer.status) };
  } catch {
    return { ok: false, text: "" };
  } finally {
    clearTimeout(late);
  }
}

export const address = (path) => API + path;
