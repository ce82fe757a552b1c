"""Requests and answers in columns (Apache Arrow): the extra ``platemargin[arrow]``, loaded with the first that is sent."""

import pyarrow as pa

# One thread answers a call, and what it held goes back to the system: a worker's memory is that of a batch.
pa.set_cpu_count(1)
pa.set_memory_pool(pa.system_memory_pool())
