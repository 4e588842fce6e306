"""When threads, processes and a cluster pay for a study of many combinations."""

import time
from itertools import count as count_from
from statistics import median

import pytest
from gap_solids import as_part
from joblib import parallel_config
from solids import tub

import buildplan as bp
from buildplan.plan import StudyPart, study_parts
from buildplan.process.cache import clear_caches

pytestmark = pytest.mark.slow
JOBS = (1, 4, 16)
ROUNDS = 3
BACKENDS = ("threading", "loky", "dask")


def items(count, run):
    """Tubs of different size; those of another run differ by a hair, so that no cache helps."""
    feedstock, recipe = bp.feedstock("PETG"), bp.recipe("everyday")
    return [
        StudyPart(
            part=as_part(tub(64).scale([0.3 + 0.01 * k + 1e-6 * run] * 3), f"tub {k}"),
            feedstocks=(feedstock,),
            recipes=(recipe,),
        )
        for k in range(count)
    ]


def timed(asked, printers, **how):
    clear_caches()
    begun = time.perf_counter()
    study_parts(asked, printers, **how)
    return time.perf_counter() - begun


@pytest.mark.filterwarnings("ignore")  # the cluster's own sockets and threads, not ours
def test_when_each_backend_pays(capsys):
    """Ratios to one loop, in turn in one run, kernels and pools warm; one job runs as a loop."""
    from distributed import Client, LocalCluster

    printers = [bp.printer("large_moving_bed")]
    rows = []
    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
        ) as cluster,
        Client(cluster),
    ):
        few, fresh = items(2, 0), count_from(1)
        serial = study_parts(few, printers, workers=1)
        for backend in BACKENDS:  # also warms the loop and every pool
            with parallel_config(backend=backend, n_jobs=2):
                assert repr(study_parts(few, printers)) == repr(serial)
        for count in JOBS:
            loop, found = [], {name: [] for name in BACKENDS}
            for _ in range(ROUNDS):
                loop.append(timed(items(count, next(fresh)), printers, workers=1))
                for backend, seconds in found.items():
                    with parallel_config(backend=backend, n_jobs=2):
                        seconds.append(timed(items(count, next(fresh)), printers))
            ratios = {name: median(loop) / median(seconds) for name, seconds in found.items()}
            rows.append((count, ratios))
    with capsys.disabled():
        print("\njobs  threads  processes  cluster   (times faster than one loop)")  # noqa: T201
        for count, ratios in rows:
            cells = "  ".join(f"{ratios[name]:7.2f}" for name in BACKENDS)
            print(f"{count:4d}  {cells}")  # noqa: T201
    most = rows[-1][1]
    assert max(most.values()) > 1.0
