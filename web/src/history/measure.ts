/** A span being chosen: by two taps, or by two presses of a key with the cursor moved in between. Pure. */
import type { Part } from "./stack";

export class Measure {
  /** The first end, once it is set; null while the first tap is awaited; undefined while nothing is measured. */
  private first: number | null | undefined;

  /** Whether taps set the ends. */
  get on(): boolean {
    return this.first !== undefined;
  }

  /** Whether one end is set and the other is awaited. */
  get drawing(): boolean {
    return typeof this.first === "number";
  }

  begin(): void {
    this.first = null;
  }

  end(): void {
    this.first = undefined;
  }

  /** Sets an end. The second one hands back the span and ends the measuring. */
  set(at: number): Part | null {
    if (typeof this.first !== "number") {
      this.first = at;
      return null;
    }
    const part = this.until(at);
    this.end();
    return part;
  }

  /** The span as it would be with its second end there. */
  until(at: number): Part {
    const first = this.first ?? at;
    return { from: Math.min(first, at), to: Math.max(first, at) };
  }
}
