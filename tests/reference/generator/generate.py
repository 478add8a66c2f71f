"""Writes every fixture anew. Run by `tests/run --regenerate-references`."""

import capacity
import cruise
import cycles
import endurance
import kalman
import theil_sen
from cells import LEAD, LFP
from fixture import head, write_text


def _write_capacity(cell) -> None:
    rows = [head("none", "capacity by rate from full to the cut-off, 25 °C", [f"bank {cell.kind}"])]
    rows.append("current_a,hours,capacity_ah\n")
    rows += [f"{a:g},{hours:.4f},{ah:.3f}\n" for a, hours, ah in capacity.by_rate(cell)]
    write_text(f"capacity_{cell.kind}.csv", "".join(rows))


def main() -> None:
    cells = [capacity.at_twenty_hours(cell) for cell in (LEAD, LFP)]
    for cell in cells:
        _write_capacity(cell)
    endurance.write(cells)
    cruise.write(cells)
    kalman.write()
    theil_sen.write()
    cycles.write()


if __name__ == "__main__":
    main()
