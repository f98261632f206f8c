"""Write what does not hold as BIM issues. Usage: python issues.py ADDRESS LAYOUT.json ISSUES.bcf"""

import json
import sys
from pathlib import Path
from urllib.request import Request, urlopen


def post(address, layout):
    body = json.dumps({"layout": layout}).encode()
    return urlopen(Request(address, body, {"Content-Type": "application/json"}), timeout=300)


def main(service, layout_path, issues_path):
    layout = json.loads(Path(layout_path).read_text(encoding="utf-8"))
    with post(f"{service}/v1/checks?parts=findings", layout) as answer:
        findings = json.load(answer)["findings"]
    for finding in findings:
        about = [finding["subject"], *finding["subject"]["elements"], *finding["concerns"]]
        refs = sorted({one["ref"] for one in about if "ref" in one})
        print(finding["outcome"], finding["rule"], finding["subject"]["id"], *refs)
    with post(f"{service}/v1/handouts/issues.bcf", layout) as answer:
        Path(issues_path).write_bytes(answer.read())


if __name__ == "__main__":
    main(*sys.argv[1:])
