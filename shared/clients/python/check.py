"""Check a layout over HTTP. Usage: python check.py ADDRESS LAYOUT.json [PACK.toml] [DAY]

Prints the verdict and what does not hold. Exit codes: 0 compliant, 1 not compliant, 2 refused,
3 undecided, 4 fault. Anything but 'compliant' is no leave to freeze, and neither is 'compliant'
alone: local codes, the site's permit system and licensed practice decide.
"""

import json
import sys
import urllib.error
import urllib.request

EXIT_CODES = {"compliant": 0, "not compliant": 1, "undecided": 3, "fault": 4}


def check(address, layout, pack=None, day=None):
    """Send a layout; give the report, or raise urllib.error.HTTPError with the problem."""
    body = {"layout": layout}
    if pack:
        body["pack"] = pack
    if day:
        body["on"] = day
    request = urllib.request.Request(
        f"{address}/v1/checks",
        data=json.dumps(body).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=300) as answer:
        return json.load(answer)


def main(address, layout_path, pack_path="", day=""):
    """Check one layout and print what came of it."""
    with open(layout_path, encoding="utf-8") as stream:
        layout = json.load(stream)
    pack = None
    if pack_path:
        with open(pack_path, encoding="utf-8") as stream:
            pack = stream.read()
    try:
        report = check(address, layout, pack, day)
    except urllib.error.HTTPError as error:
        problem = json.load(error)
        print(f"refused: {problem['title']}")
        for fault in problem.get("faults", []):
            print(f"  {fault['pointer']}: {fault['problem']}")
        return 2
    print(report["verdict"])
    for finding in report["findings"]:
        if finding["outcome"] in {"broken", "undecided", "fault"}:
            print(f"  {finding['outcome']}: {finding['rule']}: {finding['says']}")
    return EXIT_CODES.get(report["verdict"], 4)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
