/** What can be taken along. */
import { files, type Daemon } from "../api";
import { el, setText } from "../dom";
import { bytes } from "../format";
import { words } from "../words";

export class FilesSection {
  readonly node = el("section", { class: "files" });
  private readonly size = el("span", { class: "sub" });

  constructor() {
    const w = words.setup.files;
    const link = (href: string, text: string): HTMLElement => el("a", { class: "onward", href, download: "" }, text);
    this.node.append(
      el("h2", {}, w.name),
      el("p", {}, link(files.backup, w.backup), " ", this.size),
      el("p", { class: "sub" }, w.backupMore),
      el("p", {}, link(files.configuration, w.configuration)),
      el("p", { class: "sub" }, w.configurationMore),
      el("p", { class: "sub" }, w.further),
    );
  }

  show({ store }: Daemon): void {
    setText(this.size, words.setup.files.size(bytes(store.bytes)));
  }
}
