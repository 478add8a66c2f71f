/** Asks for the PIN as the daemon does. Without one everything is taken, as from the machine itself. */

const MOST = 5;
const SPAN_MS = 60_000;

export class Permit {
  #wrong = [];

  constructor(pin) {
    this.pin = pin;
  }

  /** Answers whether this client may change something. */
  answer(request, response) {
    if (this.pin !== undefined && request.headers.authorization !== undefined && this.refuse(request, response)) return;
    const may = this.pin === undefined || request.headers.authorization !== undefined;
    const text = may ? "changes are taken" : "this needs the PIN that is set in the configuration";
    response.writeHead(200, { "content-type": "application/json" });
    response.end(JSON.stringify({ may, needs: may ? null : "pin", pin_set: this.pin !== undefined, text }));
  }

  /** Refuses what lacks the PIN; false where it may go on. */
  refuse(request, response) {
    if (this.pin === undefined) return false;
    const sent = request.headers.authorization;
    const problem = (status, title, detail, further = {}, headers = {}) => {
      response.writeHead(status, { "content-type": "application/problem+json", ...headers });
      response.end(JSON.stringify({ status, title, detail, needs: "pin", ...further }));
      return true;
    };
    const challenge = { "www-authenticate": 'Bearer realm="taffrail"' };
    if (sent === undefined) return problem(401, "PIN needed", "this needs the PIN that is set in the configuration", {}, challenge);
    const now = Date.now();
    this.#wrong = this.#wrong.filter((at) => now - at < SPAN_MS);
    if (this.#wrong.length >= MOST) {
      const wait = Math.ceil((this.#wrong[0] + SPAN_MS - now) / 1000);
      return problem(429, "Too many tries", `${MOST} wrong PINs within a minute: none is taken for another ${wait} s`, { retry_after_s: wait }, { "retry-after": String(wait) });
    }
    if (sent === `Bearer ${this.pin}`) return false;
    this.#wrong.push(now);
    return problem(401, "PIN needed", "that is not the PIN that is set in the configuration", {}, challenge);
  }
}
