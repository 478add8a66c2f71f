/** The modules of the page as a reader of German has them. */
import { vi } from "vitest";

/** Modules imported after this are German; before them, what was imported stays as it was. */
export function readGerman(): void {
  vi.resetModules();
  vi.stubGlobal("navigator", { language: "de-DE", languages: ["de-DE", "en"] });
}
