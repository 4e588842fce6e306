"""The cache: same content, same object; bounded in bytes; safe from several threads."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import pytest

from buildplan.errors import InputError
from buildplan.process import cache


@dataclass(frozen=True)
class Inner:
    array: np.ndarray


@dataclass(frozen=True)
class Outer:
    inner: Inner
    array: np.ndarray
    pair: tuple


@pytest.fixture(autouse=True)
def _empty_cache():
    cache.clear_caches()
    yield
    cache.clear_caches()
    cache.set_limit_bytes(cache.DEFAULT_LIMIT_BYTES)


def megabyte():
    return np.zeros(1024 * 1024, np.uint8)


def test_the_second_call_gives_the_same_object_without_making_it():
    first = cache.cached(("stage", 1), megabyte)
    assert cache.cached(("stage", 1), lambda: pytest.fail("made twice")) is first
    assert cache.cached(("stage", 2), megabyte) is not first


def test_clearing_forgets_everything():
    first = cache.cached("a", megabyte)
    assert cache.cached_bytes() == first.nbytes
    cache.clear_caches()
    assert cache.cached_bytes() == 0
    assert cache.cached("a", megabyte) is not first


def test_what_was_used_longest_ago_goes_first():
    cache.set_limit_bytes(3 * 1024 * 1024)
    kept = {name: cache.cached(name, megabyte) for name in "abc"}
    cache.cached("a", megabyte)
    cache.cached("d", megabyte)
    assert cache.cached_bytes() == 3 * 1024 * 1024
    assert cache.cached("a", megabyte) is kept["a"]
    assert cache.cached("c", megabyte) is kept["c"]
    assert cache.cached("b", megabyte) is not kept["b"]


def test_a_result_over_the_limit_is_given_but_not_kept():
    cache.set_limit_bytes(1000)
    assert cache.cached("big", megabyte).nbytes > 1000
    assert cache.cached_bytes() == 0


def test_a_lower_limit_drops_at_once():
    cache.cached("a", megabyte)
    cache.set_limit_bytes(0)
    assert cache.limit_bytes() == 0
    assert cache.cached_bytes() == 0


def test_a_negative_limit_is_refused():
    with pytest.raises(InputError, match="-1 bytes, allowed is 0 or more"):
        cache.set_limit_bytes(-1)


def test_shared_and_nested_arrays_count_once():
    inner = Inner(array=megabyte())
    view = inner.array.view()
    cache.cached("inner", lambda: inner)
    cache.cached("outer", lambda: Outer(inner=inner, array=megabyte(), pair=(view, megabyte())))
    assert cache.cached_bytes() == 3 * 1024 * 1024


def test_a_failure_keeps_nothing_and_can_be_tried_again():
    def fail():
        raise InputError("no")

    with pytest.raises(InputError):
        cache.cached("a", fail)
    assert cache.cached("a", megabyte) is not None


def test_threads_that_ask_for_the_same_thing_make_it_once():
    made = []
    gate = threading.Barrier(4)

    def slow():
        made.append(1)
        time.sleep(0.05)
        return megabyte()

    def ask(_):
        gate.wait()
        return cache.cached("same", slow)

    with ThreadPoolExecutor(4) as pool:
        results = list(pool.map(ask, range(4)))
    assert len(made) == 1
    assert all(result is results[0] for result in results)


def test_threads_that_ask_for_different_things_do_not_wait_for_each_other():
    both = threading.Barrier(2, timeout=5.0)

    def meet():
        both.wait()
        return megabyte()

    with ThreadPoolExecutor(2) as pool:
        assert len(list(pool.map(lambda name: cache.cached(name, meet), ("x", "y")))) == 2


def test_many_threads_leave_the_cache_within_its_limit():
    cache.set_limit_bytes(5 * 1024 * 1024)
    with ThreadPoolExecutor(8) as pool:
        got = list(pool.map(lambda i: cache.cached(i % 13, megabyte).nbytes, range(400)))
    assert set(got) == {1024 * 1024}
    assert cache.cached_bytes() <= 5 * 1024 * 1024
