"""Check every layout in a folder. Usage: python folder.py FOLDER. Exit code: the worst of them."""

import sys
from pathlib import Path

from layoutcheck import LayoutFaults, check


def main(folder):
    worst = 0
    for path in sorted(Path(folder).glob("*.json")):
        try:
            report = check(path)
        except LayoutFaults as faults:
            print(f"{path.name}: not usable\n{faults}")
            worst = max(worst, 2)
            continue
        print(f"{path.name}: {report.verdict.value}")
        for action in report.actions[:3]:
            print(f"  {action.number}. {action.what}")
        for plug in report.plugs:
            if plug.nearest is not None:
                print(f"  {plug.id}: may go to {plug.nearest.tape.shown} on {plug.nearest.pipe}")
        worst = max(worst, report.exit_code)
    return worst


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
