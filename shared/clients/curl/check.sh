#!/bin/sh
# Check a layout over HTTP and print the report. Usage: sh check.sh ADDRESS LAYOUT.json
#
# A file wrapped as {"layout": ...} is the whole body. The verdict also comes as the header
# Layoutcheck-Verdict. Exit codes: 0 compliant, 1 not compliant, 2 refused, 3 undecided, 4 fault.
# Anything but 'compliant' is no leave to freeze, and neither is 'compliant' alone: local codes,
# the site's permit system and licensed practice decide.
set -eu

address=$1
layout=$2
headers=$(mktemp)
trap 'rm -f "$headers"' EXIT

{ printf '{"layout": '; cat "$layout"; printf '}'; } |
  curl --silent --show-error --dump-header "$headers" \
    --header 'Content-Type: application/json' --data-binary @- "$address/v1/checks"

verdict=$(sed -n 's/^[Ll]ayoutcheck-[Vv]erdict: *\([a-z ]*[a-z]\).*$/\1/p' "$headers")
case $verdict in
  compliant) exit 0 ;;
  'not compliant') exit 1 ;;
  undecided) exit 3 ;;
  '') exit 2 ;;
  *) exit 4 ;;
esac
