"""Answer a Parquet file on Spark, as DEVELOPERS.md shows."""

import sys
from functools import partial

import pyarrow.parquet as pq
from pyspark.sql import SparkSession
from pyspark.sql.pandas.types import from_arrow_schema

from platemargin_api.portfolio.batches import answer_batches, answer_schema

if __name__ == "__main__":
    source, target = sys.argv[1:]
    spark = SparkSession.builder.master("local[2]").config("spark.ui.enabled", "false").getOrCreate()
    readings = spark.read.parquet(source).repartition(2)
    schema = answer_schema("plate-margin", pq.read_schema(source), keep=["hull"])
    answers = partial(answer_batches, "plate-margin", keep=["hull"])
    readings.mapInArrow(answers, from_arrow_schema(schema)).write.parquet(target)
    spark.stop()
