"""Where areas are proved: on this machine, on Spark or on Dask, which only hand out areas and try again.

Comes in: folders of areas' roll-ups, an engine's name and address. Goes out: what became of each. Adding an engine is
adding a function to ENGINES; each is an extra of its own, and nothing of it is needed elsewhere.
"""

import json
import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from typing import Any

from pipelines.definitions.errors import Stop
from pipelines.region.proving import prove

Told = dict[str, Any]
TRIES = 4  # of one area, before it is given up
GIVEN_UP = f"its worker died {TRIES} times"


def local(folders: Sequence[str], out: str, _address: str) -> list[Told]:
    """Processes of this machine; where one is killed, what it had not finished is handed to new ones."""
    done: dict[str, Told] = {}
    for _try in range(TRIES):
        left = [folder for folder in folders if folder not in done]
        workers = min(os.cpu_count() or 1, len(left))
        if not left:
            break
        try:
            with ProcessPoolExecutor(workers, multiprocessing.get_context("spawn")) as pool:
                asked = {folder: pool.submit(prove, folder, out) for folder in left}
                for folder, future in asked.items():
                    done[folder] = future.result()
        except BrokenProcessPool:
            done |= {folder: one.result() for folder, one in asked.items() if one.done() and not one.exception()}
    return [done.get(folder, {"folder": folder, "differs": [], "reason": GIVEN_UP}) for folder in folders]


def spark(folders: Sequence[str], out: str, address: str) -> list[Told]:
    """Spark: a partition an area. `local[2,4]` tries a task four times; plain `local[2]` would try it once."""
    try:
        from pyspark.sql import SparkSession  # noqa: PLC0415 - an extra
    except ImportError:
        raise Stop("Spark is not installed here: pip install 'musterbook[spark]', and Java 17 or newer.") from None
    session = SparkSession.builder.master(address or f"local[{os.cpu_count() or 1},{TRIES}]").appName("proof")
    running = session.config("spark.ui.enabled", "false").getOrCreate()
    try:
        numbers = running.range(0, len(folders), 1, len(folders))
        rows = numbers.mapInArrow(partial(_in_arrow, tuple(folders), out), "told string").collect()
        return _read(row["told"] for row in rows)
    finally:
        running.stop()


def _in_arrow(folders: Sequence[str], out: str, batches: Iterator[Any]) -> Iterator[Any]:
    """The work of one partition, as Spark hands it over and takes it back."""
    import pyarrow as pa  # noqa: PLC0415 - in a worker

    for batch in batches:
        told = [json.dumps(prove(folders[number], out)) for number in batch.column(0).to_pylist()]
        yield pa.RecordBatch.from_arrays([pa.array(told, pa.string())], ["told"])


def _read(lines: Any) -> list[Told]:
    return sorted((json.loads(line) for line in lines), key=lambda told: str(told["folder"]))


def dask(folders: Sequence[str], out: str, address: str) -> list[Told]:
    """Dask: a future an area, tried again where its worker dies."""
    try:
        from distributed import Client, LocalCluster  # noqa: PLC0415 - an extra
    except ImportError:
        raise Stop("Dask is not installed here: pip install 'musterbook[dask]'.") from None
    if address:
        with Client(address) as client:
            return list(client.gather(client.map(prove, folders, out=out, pure=False, retries=TRIES - 1)))
    workers = min(os.cpu_count() or 1, len(folders))
    with LocalCluster(workers, threads_per_worker=1, dashboard_address=None) as cluster, Client(cluster) as client:
        return list(client.gather(client.map(prove, folders, out=out, pure=False, retries=TRIES - 1)))


ENGINES: dict[str, Callable[[Sequence[str], str, str], list[Told]]] = {"local": local, "spark": spark, "dask": dask}
