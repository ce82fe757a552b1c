"""Run a Dask cluster of two worker processes; tell its address and their process ids, and end with stdin."""

import json
import sys

from distributed import LocalCluster

if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50) as cluster:
        workers = [worker.pid for worker in cluster.workers.values()]
        sys.stdout.write(json.dumps({"address": cluster.scheduler_address, "workers": workers}) + "\n")
        sys.stdout.flush()
        sys.stdin.read()
