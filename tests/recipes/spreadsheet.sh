#!/bin/sh
# A spreadsheet user's call: a table saved as CSV goes in, the same rows with their margins come out as CSV.
#   sh spreadsheet.sh PLATES.csv [http://127.0.0.1:8000] > margins.csv
# Decimal points and commas between columns. Rows that are refused say why in the column "error"; the others are answered.
set -eu
exec curl --silent --show-error --fail-with-body --data-binary "@$1" \
    -H 'Content-Type: text/csv' -H 'Accept: text/csv' \
    "${2-http://127.0.0.1:8000}/v1/calculations/plate-margin"
