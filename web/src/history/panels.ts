/** Which panels a bank's channels and branches make, what they are called, and which of them are shown. Pure. */
import type { Bank, Branch } from "../api";
import { TEMPERATURE_UNIT } from "../format";
import { words } from "../words";

export interface Line {
  channel: string;
  /** Written at the line's end where the panel has several. */
  label: string;
  /** -1 for a sensor that counts the other way round. */
  sign: 1 | -1;
}

export interface PanelSpec {
  key: string;
  title: string;
  unit: string;
  lines: Line[];
  /** Shaded from zero: what flows in above, out below. */
  signed: boolean;
  /** A channel drawn as a thin second line where the history has it. */
  beside: string | null;
}

const MAIN = ["soc", "voltage_v", "current_a", "power_w", "temperature_c"];
/** Charge as reckoned at the time, beside the reconciled line. */
export const LIVE = "soc_live";
const NUMBERED = /^(.*)_(\d+)_[a-z]+$/;
const BRANCHES = { source: "sources", load: "loads" } as const;

/** The main quantities first, then the branches, then numbered channels of one kind together, then the rest each by itself. */
export function panelsOf(bank: Bank): PanelSpec[] {
  const units = new Map(bank.channels.map((channel) => [channel.name, channel.unit === "°C" ? TEMPERATURE_UNIT : channel.unit]));
  units.set("soc", "1").set("power_w", "W");
  const main = MAIN.filter((name) => units.has(name)).map((name) => single(name, units.get(name)!));
  const specs = [...main, branchPanel(bank, "source", units), branchPanel(bank, "load", units)].filter((spec) => spec !== null);
  for (const { name } of bank.channels) {
    if (specs.some((spec) => spec.lines.some((line) => line.channel === name))) continue;
    const unit = units.get(name) ?? "";
    const numbered = NUMBERED.exec(name);
    if (!numbered) {
      specs.push(single(name, unit));
      continue;
    }
    const key = `${numbered[1]} ${unit}`;
    const line: Line = { channel: name, label: numbered[2]!, sign: 1 };
    const group = specs.find((spec) => spec.key === key);
    if (group) group.lines.push(line);
    else specs.push({ ...single(name, unit), key, title: words.history.channel[numbered[1]!] ?? humane(numbered[1]!), lines: [line] });
  }
  return specs;
}

function single(name: string, unit: string): PanelSpec {
  const bare = name.replace(/_[a-z]+$/, "");
  return {
    key: name,
    title: words.history.channel[name] ?? words.charts.panel.quantity[bare] ?? humane(bare),
    unit,
    lines: [{ channel: name, label: "", sign: 1 }],
    signed: unit === "A" || unit === "W",
    beside: name === "soc" ? LIVE : null,
  };
}

/** The branches of one kind that have a sensor; null where none has. */
function branchPanel(bank: Bank, role: Branch["role"], units: Map<string, string>): PanelSpec | null {
  const lines = bank.branches.flatMap(({ role: own, channel, title, reversed }): Line[] =>
    own === role && channel !== null && units.has(channel) ? [{ channel, label: title, sign: reversed ? -1 : 1 }] : [],
  );
  const key = BRANCHES[role];
  return lines.length === 0 ? null : { key, title: words.charts.panel[key], unit: "A", lines, signed: true, beside: null };
}

/** Letters that stand for themselves in a channel's name. */
const SHORT = /\b(ac|dc|pv|id)\b/g;

/** A name of the configuration as it reads: "sea_water" is "Sea water". */
function humane(name: string): string {
  const text = name.replaceAll("_", " ").replace(SHORT, (letters) => letters.toUpperCase());
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** A channel's name for people: "monobloc_3_v" reads "Monobloc 3". */
export function channelTitle(name: string): string {
  const numbered = NUMBERED.exec(name);
  if (!numbered) return single(name, "").title;
  return `${words.history.oneOf[numbered[1]!] ?? humane(numbered[1]!)} ${numbered[2]}`;
}

/** What a reader has said of panels: shown or not, by their keys. */
export type Choices = Record<string, boolean>;

const USUAL = new Set(["soc", "voltage_v", "current_a", "temperature_c", "sources", "loads"]);

/** The panels to be shown; the usual ones where nothing was said. Where no branch has a sensor, power takes their place. */
export function chosenPanels(specs: PanelSpec[], choices: Choices): PanelSpec[] {
  const branches = specs.some((spec) => spec.key === "sources" || spec.key === "loads");
  const usual = (key: string): boolean => USUAL.has(key) || (key === "power_w" && !branches);
  const shown = specs.filter(({ key }) => choices[key] ?? usual(key));
  return shown.length > 0 ? shown : specs.slice(0, 1);
}

/** The choices as they were kept; none where that is not what is kept. */
export function readChoices(text: string | null): Choices {
  try {
    const kept: unknown = JSON.parse(text ?? "{}");
    const pairs = typeof kept === "object" && kept !== null ? Object.entries(kept) : [];
    return Object.fromEntries(pairs.filter((pair): pair is [string, boolean] => typeof pair[1] === "boolean"));
  } catch {
    return {};
  }
}

/** The channels that panels need. */
export const channelsOf = (specs: PanelSpec[]): string[] => specs.flatMap((spec) => spec.lines.map((line) => line.channel));
