/** Asks for the PIN in the place where an order was given, and has the order sent again with it. */
import { el, setText } from "../dom";
import { joined } from "../format";
import { isPin, permit, type PinRefusal } from "../permit";
import { words } from "../words";

/** What is said above the field. */
function said({ wrong, wait_s }: PinRefusal): string {
  const { pin } = words;
  if (wait_s !== null) return pin.wait(joined({ value: String(wait_s), unit: words.unit.seconds }));
  return wrong ? pin.wrong : pin.needed;
}

/** Fills `place` with the question and shows it; left or answered, it is hidden and `from` gets the focus. */
export function askPin(place: HTMLElement, refused: PinRefusal, again: () => void, from: HTMLElement | null): void {
  const { pin, orders } = words;
  const close = (): void => {
    place.hidden = true;
    place.replaceChildren();
    from?.focus();
  };
  const text = el("p", { role: "status" }, said(refused));
  const field = el("input", { type: "password", class: "amount field", autocomplete: "current-password", maxlength: "64", "aria-label": pin.field });
  const keep = el("button", { type: "button", class: "tool", "aria-pressed": "false" }, pin.keep);
  keep.addEventListener("click", () => keep.setAttribute("aria-pressed", String(keep.getAttribute("aria-pressed") !== "true")));
  const submit = (event: Event): void => {
    event.preventDefault();
    if (!isPin(field.value)) return setText(text, pin.bad);
    permit.take(field.value, keep.getAttribute("aria-pressed") === "true");
    close();
    again();
  };
  place.replaceChildren(
    text,
    el(
      "form",
      { novalidate: true, onsubmit: submit },
      el("p", {}, `${pin.field} `, field),
      el("p", {}, keep),
      el("p", {}, el("button", { type: "submit", class: "act" }, pin.send), " ", el("button", { type: "button", class: "order", onclick: close }, orders.leave)),
    ),
  );
  place.setAttribute("aria-label", said(refused));
  // Handing back false would keep every other key from the field.
  place.onkeydown = (event) => {
    if (event.key === "Escape") close();
  };
  place.hidden = false;
  field.focus();
}
