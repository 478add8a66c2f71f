"""Reads exported files with DuckDB, pandas and pyarrow, and prints what each makes of them as JSON.

    read.py samples FOLDER CSV JSONL      sums of every sample, by each engine and format
    read.py fleet QUERY FOLDER            the rows of the documented query
"""

import json
import sys

import duckdb
import pandas
import pyarrow.dataset


def figures(rows, current, voltage, first, last):
    return {
        "rows": int(rows),
        "current_a": round(float(current), 6),
        "voltage_v": round(float(voltage), 6),
        "first_ms": int(first),
        "last_ms": int(last),
    }


def of_frame(frame):
    utc = pandas.to_datetime(frame["utc"], utc=True, format="ISO8601" if frame["utc"].dtype != "datetime64[ms, UTC]" else None)
    ms = (utc - pandas.Timestamp(0, tz="UTC")) / pandas.Timedelta(milliseconds=1)
    return figures(len(frame), frame["current_a"].sum(), frame["voltage_v"].sum(), round(ms.min()), round(ms.max()))


def samples(folder, csv, lines):
    query = "SELECT count(*), sum(current_a), sum(voltage_v), epoch_ms(min(utc)), epoch_ms(max(utc)) FROM "
    parquet = f"read_parquet('{folder}/**/samples-*.parquet', hive_partitioning = true)"
    dataset = pyarrow.dataset.dataset(folder, format="parquet", partitioning="hive")
    table = dataset.to_table()
    return {
        "duckdb parquet": figures(*duckdb.sql(query + parquet).fetchall()[0]),
        "duckdb csv": figures(*duckdb.sql(query + f"read_csv('{csv}')").fetchall()[0]),
        "duckdb json": figures(*duckdb.sql(query + f"read_json('{lines}', columns = {{current_a: 'DOUBLE', voltage_v: 'DOUBLE', utc: 'TIMESTAMP'}})").fetchall()[0]),
        "pandas parquet": of_frame(pandas.read_parquet(folder)),
        "pandas csv": of_frame(pandas.read_csv(csv)),
        "pandas json": of_frame(pandas.read_json(lines, lines=True, convert_dates=False)),
        "pyarrow parquet": of_frame(table.to_pandas()),
        "partitions": sorted({f"{v}/{b}/{y}/{m}" for v, b, y, m in zip(*(table[name].to_pylist() for name in ("vessel", "bank", "year", "month")))}),
        "types": {field.name: str(field.type) for field in dataset.schema},
    }


def fleet(query, folder):
    with open(query, encoding="utf-8") as file:
        text = file.read().replace("FILES", folder)
    return duckdb.sql(text).df().to_dict("records")


print(json.dumps({"samples": samples, "fleet": fleet}[sys.argv[1]](*sys.argv[2:])))
