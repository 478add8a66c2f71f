/** The PIN that the daemon asks of whoever changes something: what a refusal means, where the PIN is kept, how it travels. */

/** The daemon wants the PIN: none came with the order, or a `wrong` one; none is taken for `wait_s`. */
export interface PinRefusal {
  needs: "pin";
  wrong: boolean;
  wait_s: number | null;
}

/** What a refused order lacks: the PIN, or to come from the machine that the daemon runs on. */
export type Refusal = PinRefusal | { needs: "local" };

/** What a refusal says it lacks; null where it was refused for another reason. */
export function refusal(status: number, said: { needs?: unknown; retry_after_s?: unknown }, pinSent: boolean): Refusal | null {
  if (said.needs === "local") return { needs: "local" };
  if (said.needs !== "pin") return null;
  const wait = said.retry_after_s;
  return { needs: "pin", wrong: status === 401 && pinSent, wait_s: typeof wait === "number" ? wait : null };
}

/** Whether this can be a PIN: what the configuration takes for one, and a header can carry. */
export const isPin = (text: string): boolean => /^[!-~][ -~]{2,62}[!-~]$/.test(text);

/** The part of a browser's storage that is used here. */
export type Shelf = Pick<Storage, "getItem" | "setItem" | "removeItem">;

const KEY = "taffrail.pin";

/** The PIN, for the life of the page; on the shelf too where the reader wants that. */
export class Keeper {
  private pin: string | null;

  constructor(private readonly shelf: Shelf | null) {
    this.pin = this.onShelf((kept) => kept.getItem(KEY));
  }

  /** What an order carries besides. */
  headers(): Record<string, string> {
    return this.pin === null ? {} : { authorization: `Bearer ${this.pin}` };
  }

  take(pin: string, keep: boolean): void {
    this.pin = pin;
    this.onShelf((kept) => (keep ? kept.setItem(KEY, pin) : kept.removeItem(KEY)));
  }

  /** It has shown to be wrong. */
  forget(): void {
    this.pin = null;
    this.onShelf((kept) => kept.removeItem(KEY));
  }

  private onShelf<T>(use: (shelf: Shelf) => T): T | null {
    try {
      return this.shelf && use(this.shelf);
    } catch {
      // Storage refused: the PIN lives as long as the page.
      return null;
    }
  }
}

/** Of one window, and gone when that is closed. */
function ofWindow(): Shelf | null {
  try {
    return sessionStorage;
  } catch {
    // Storage refused, or none at all (tests).
    return null;
  }
}

export const permit = new Keeper(ofWindow());
