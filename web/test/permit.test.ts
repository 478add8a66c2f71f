import { describe, expect, it } from "vitest";
import { isPin, Keeper, refusal, type Shelf } from "../src/permit";

class Drawer implements Shelf {
  readonly kept = new Map<string, string>();
  getItem(key: string): string | null {
    return this.kept.get(key) ?? null;
  }
  setItem(key: string, value: string): void {
    this.kept.set(key, value);
  }
  removeItem(key: string): void {
    this.kept.delete(key);
  }
}

describe("what a refusal lacks", () => {
  it("a_pin_is_wrong_only_if_one_was_sent", () => {
    expect(refusal(401, { needs: "pin" }, false)).toEqual({ needs: "pin", wrong: false, wait_s: null });
    expect(refusal(401, { needs: "pin" }, true)).toEqual({ needs: "pin", wrong: true, wait_s: null });
  });
  it("too_many_tries_say_how_long_to_wait_and_not_that_this_one_was_wrong", () => {
    expect(refusal(429, { needs: "pin", retry_after_s: 42 }, true)).toEqual({ needs: "pin", wrong: false, wait_s: 42 });
  });
  it("another_machine_is_told_so_and_other_refusals_lack_nothing", () => {
    expect(refusal(403, { needs: "local" }, false)).toEqual({ needs: "local" });
    expect(refusal(409, {}, true)).toBeNull();
  });
});

describe("what can be a pin", () => {
  it("four_to_sixty_four_signs_that_a_header_carries", () => {
    for (const good of ["4711", "Ahoy there!", "x".repeat(64)]) expect(isPin(good), good).toBe(true);
    for (const bad of ["", "471", " 4711", "4711 ", "Ahöy", "47\t11", "x".repeat(65)]) expect(isPin(bad), bad).toBe(false);
  });
});

describe("the keeper of the pin", () => {
  it("sends_it_as_a_bearer_token_once_it_has_one", () => {
    const keeper = new Keeper(null);
    expect(keeper.headers()).toEqual({});
    keeper.take("4711", false);
    expect(keeper.headers()).toEqual({ authorization: "Bearer 4711" });
    keeper.forget();
    expect(keeper.headers()).toEqual({});
  });
  it("keeps_it_for_the_window_only_where_that_is_wished", () => {
    const drawer = new Drawer();
    new Keeper(drawer).take("4711", false);
    expect(new Keeper(drawer).headers()).toEqual({});
    new Keeper(drawer).take("4711", true);
    expect(new Keeper(drawer).headers()).toEqual({ authorization: "Bearer 4711" });
    new Keeper(drawer).take("4712", false);
    expect([...drawer.kept]).toEqual([]);
  });
  it("lives_without_a_storage_that_refuses", () => {
    const refusing = (): never => {
      throw new Error("refused");
    };
    const keeper = new Keeper({ getItem: refusing, setItem: refusing, removeItem: refusing });
    keeper.take("4711", true);
    expect(keeper.headers()).toEqual({ authorization: "Bearer 4711" });
    keeper.forget();
    expect(keeper.headers()).toEqual({});
  });
});
