"""A notebook's cells: a fleet's readings as a DataFrame, their margins beside them, the worst of each boat.

    python fleet_pandas.py READINGS.csv [http://127.0.0.1:8000]

READINGS.csv has a column `boat`, which stays here, and columns named as plate-margin's members. Needs pandas.
"""

# %%
import io
import sys
from urllib.request import Request, urlopen

import pandas as pd


# %%
def margins(readings: pd.DataFrame, address: str) -> pd.DataFrame:
    """Return readings with what plate-margin tells of each; a row that is refused has its reason in `error`."""
    sent = readings.drop(columns="boat").to_csv(index=False).encode()
    headers = {"Content-Type": "text/csv", "Accept": "text/csv"}
    with urlopen(Request(f"{address}/v1/calculations/plate-margin", sent, headers), timeout=60) as response:
        told = pd.read_csv(io.BytesIO(response.read()), keep_default_na=False, na_values=[""])
    assert len(told) == len(readings), "the answer was cut off"
    return readings.join(told.drop(columns=[name for name in told if name in readings]))


# %%
def worst(told: pd.DataFrame) -> pd.DataFrame:
    """Return the row with the least margin of each boat, and how many of its rows were refused: those are not passed over."""
    least = told.loc[told.groupby("boat")["margin_mm"].idxmin().dropna().astype(int)]
    refused = told.groupby("boat")["error"].count().rename("refused_rows")
    members = ["boat", "residual_mm", "margin_mm", "years_low", "status"]
    return least[members].merge(refused, left_on="boat", right_index=True).sort_values("margin_mm")


# %%
if __name__ == "__main__":
    file, address = sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else "http://127.0.0.1:8000"
    print(worst(margins(pd.read_csv(file), address)).to_string(index=False))
