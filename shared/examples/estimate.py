"""Price a planned freeze. Usage: python estimate.py ADDRESS LAYOUT.json PRICES.csv (code,price)"""

import csv
import json
import sys
from urllib.request import Request, urlopen


def main(service, layout_path, prices_path):
    with open(prices_path, encoding="utf-8", newline="") as stream:
        prices = {row["code"]: float(row["price"]) for row in csv.DictReader(stream)}
    with open(layout_path, encoding="utf-8") as stream:
        body = json.dumps({"layout": json.load(stream)}).encode()
    address = f"{service}/v1/handouts/takeoff.json"
    with urlopen(
        Request(address, body, {"Content-Type": "application/json"}), timeout=300
    ) as answer:
        takeoff = json.load(answer)
    total = [0.0] * 3
    for line in takeoff["lines"]:
        ends = [line[end] * prices.get(line["code"], 0.0) for end in ("low", "quantity", "high")]
        total = [sum(pair) for pair in zip(total, ends)]
        print(f"{line['code']:16} {line['quantity']:8g} {line['unit']:6} {ends[1]:10.2f}")
    warning = "" if takeoff["verdict"] == "compliant" else "  NOT TO BE BUILT ON"
    print("low {:.2f}, estimate {:.2f}, high {:.2f}".format(*total) + warning)


if __name__ == "__main__":
    main(*sys.argv[1:])
