// Asking the server: one question of a kind at a time, the newest waits, and a server that is gone is asked until it is back.

export class Refused extends Error {}

export class Server {
  constructor(gone, back) {
    this.gone = gone;
    this.back = back;
    this.away = false;
  }

  async ask(name, table) {
    return this.answer(await this.send(name, {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(table),
    }));
  }

  async get(name) { return this.answer(await this.send(name, {})); }

  async send(name, how) {
    try {
      return await fetch(name, how);
    } catch (error) {
      this.lost();
      throw new Refused("");
    }
  }

  async answer(response) {
    if (!response.ok) {
      const said = await response.json().catch(() => ({ error: "The program could not answer." }));
      throw new Refused(said.error);
    }
    const kind = response.headers.get("Content-Type") || "";
    if (kind.startsWith("application/json")) return response.json();
    return kind.startsWith("application/octet-stream") ? response.arrayBuffer() : response.blob();
  }

  lost() {
    if (this.away) return;
    this.away = true;
    this.gone();
    const again = async () => {
      try {
        const response = await fetch("alive");
        if (!response.ok) throw new Error();
        this.away = false;
        this.back();
      } catch (error) { setTimeout(again, 1000); }
    };
    setTimeout(again, 700);
  }
}

// Runs a piece of work for the newest of what it is given; what came while it ran, but for the last, is left out.
export class Newest {
  constructor(work) { this.work = work; this.running = false; this.waiting = null; this.idle = Promise.resolve(); }

  give(what) {
    this.waiting = { what };
    if (!this.running) this.idle = this.run();
    return this.idle;
  }

  async run() {
    this.running = true;
    try {
      while (this.waiting) {
        const { what } = this.waiting;
        this.waiting = null;
        await this.work(what);
      }
    } finally { this.running = false; }
  }
}
