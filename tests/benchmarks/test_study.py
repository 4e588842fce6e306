"""When threads, processes and a cluster pay for a study of many combinations."""

import time

import pytest
from gap_solids import as_part
from joblib import parallel_config
from solids import tub

import buildplan as bp
from buildplan.plan import StudyPart, study_parts
from buildplan.process.cache import clear_caches

pytestmark = pytest.mark.slow
JOBS = (1, 4, 16)


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


def timed(call):
    clear_caches()
    begun = time.perf_counter()
    call()
    return time.perf_counter() - begun


@pytest.mark.filterwarnings("ignore")  # the cluster's own sockets and threads, not ours
def test_when_each_backend_pays(capsys):
    """Ratios to one loop in one run; pools are warm. Recorded, since shared machines are noisy."""
    from distributed import Client, LocalCluster

    printers = [bp.printer("large_moving_bed")]
    rows = []
    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
        ) as cluster,
        Client(cluster),
    ):
        for count in JOBS:
            asked = items(count, 0)
            loop = timed(lambda asked=asked: study_parts(asked, printers, workers=1))
            few = items(2, 9)
            serial = study_parts(few, printers, workers=1)
            found = {}
            for run, backend in enumerate(("threading", "loky", "dask"), start=1):
                asked = items(count, run)
                with parallel_config(backend=backend, n_jobs=2):
                    assert repr(study_parts(few, printers)) == repr(serial)
                    found[backend] = timed(lambda asked=asked: study_parts(asked, printers))
            rows.append((count, {name: loop / seconds for name, seconds in found.items()}))
    with capsys.disabled():
        print("\njobs  threads  processes  cluster   (times faster than one loop)")  # noqa: T201
        for count, ratios in rows:
            cells = "  ".join(f"{ratios[name]:7.2f}" for name in ("threading", "loky", "dask"))
            print(f"{count:4d}  {cells}")  # noqa: T201
    most = rows[-1][1]
    assert max(most.values()) > 1.0
