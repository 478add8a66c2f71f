import { describe, expect, it } from "vitest";
import { charge, clock, current, energy, joined, number, percent, power, span, tickLabel, voltage } from "../src/format";

describe("numbers", () => {
  it("minus_is_a_minus_sign_and_zero_has_none", () => {
    expect(number(-1.26, 1)).toBe("\u22121.3");
    expect(number(-0.001, 1)).toBe("0.0");
    expect(number(0.001, 1, true)).toBe("0.0");
    expect(number(2, 0, true)).toBe("+2");
  });
  it("units_go_with_the_size", () => {
    expect(joined(power(-466.6))).toBe("\u2212467\u202fW");
    expect(joined(power(1240))).toBe("1.24\u202fkW");
    expect(joined(power(23_456))).toBe("23.5\u202fkW");
    expect(joined(current(-0.324))).toBe("\u22120.32\u202fA");
    expect(joined(current(-123.4))).toBe("\u2212123\u202fA");
    expect(joined(voltage(52.31))).toBe("52.3\u202fV");
    expect(joined(voltage(13.07))).toBe("13.07\u202fV");
    expect(joined(energy(3680))).toBe("3.68\u202fkWh");
    expect(joined(charge(70.82))).toBe("70.8\u202fAh");
    expect(joined(percent(0.714))).toBe("71\u202f%");
  });
  it("two_ends_share_the_unit_of_the_greater", () => {
    expect(span(-467, 1500, "W")).toEqual({ low: "\u22120.47", high: { value: "1.50", unit: "kW" } });
    expect(span(-1.3, -0.57, "A")).toEqual({ low: "\u22121.3", high: { value: "\u22120.6", unit: "A" } });
    expect(span(0.47, 0.928, "1")).toEqual({ low: "47.0", high: { value: "92.8", unit: "%" } });
    expect(span(-467, 150, "W")).toEqual({ low: "\u2212467", high: { value: "150", unit: "W" } });
  });
});

describe("times", () => {
  it("clock_is_of_the_boats_zone_not_of_this_computer", () => {
    expect(clock(Date.parse("2026-07-01T10:00:00Z"), "Europe/Lisbon")).toBe("11:00");
    expect(clock(Date.parse("2026-07-01T10:00:00Z"), "Asia/Kolkata")).toBe("15:30");
  });
  it("midnight_carries_its_day", () => {
    expect(tickLabel({ ms: Date.parse("2026-11-25T00:00:00Z"), level: "day" }, "Europe/Lisbon", true)).toBe("Wed 25 Nov");
    expect(tickLabel({ ms: Date.parse("2026-11-25T00:00:00Z"), level: "day" }, "Europe/Lisbon", false)).toBe("25 Nov");
  });
  it("an_axis_tells_the_hour_that_comes_twice_apart", () => {
    const at = (time: string) => tickLabel({ ms: Date.parse(time), level: "minute" }, "Europe/Lisbon", true);
    expect([at("2026-10-25T00:00:00Z"), at("2026-10-25T01:00:00Z")].map((label) => label.slice(0, 5))).toEqual(["01:00", "01:00"]);
    expect(at("2026-10-25T00:00:00Z")).not.toBe(at("2026-10-25T01:00:00Z"));
    expect(at("2026-10-25T03:00:00Z")).toBe("03:00");
  });
});
