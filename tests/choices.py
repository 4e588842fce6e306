"""Random cases of the choice, for tests and benchmarks; every number invented."""

import numpy as np

from buildplan.decide.choice import (
    AtHome,
    Case,
    Machine,
    PartOptions,
    SentOut,
    Service,
    Stock,
    Terms,
)


def random_case(
    rng, parts, options, services, *, printers=2, deadline=None, most_hazard=None, day_cents=None
):
    """Parts of log-normal volume, at home in 1 to 3 pieces or at services with fees."""
    at = tuple(
        Service(
            name=f"S{j}",
            shipping_cents=int(rng.integers(4, 15)) * 100,
            least_cents=int(rng.integers(0, 40)) * 100,
            free_from_cents=int(rng.integers(60, 150)) * 100 if rng.random() < 0.5 else None,
        )
        for j in range(services)
    )
    stocks = tuple(
        Stock(
            feedstock=f"m{j}",
            pack_g=1000 if j < 2 else 500,
            pack_cents=int(rng.integers(18, 45)) * 100,
            on_hand_g=int(rng.integers(0, 700)),
            shop="shop",
        )
        for j in range(3)
    )
    machines = tuple(
        Machine(name=f"A{j}", minutes_per_day=int(rng.integers(600, 1100))) for j in range(printers)
    )
    rate = {machine.name: rng.uniform(0.003, 0.02) for machine in machines}
    return Case(
        parts=tuple(
            PartOptions(
                name=f"part{i}",
                options=tuple(
                    _home(rng, volume, machines, stocks, rate)
                    if rng.random() < 0.6 or not at
                    else _sent(rng, volume, at)
                    for _ in range(options)
                ),
            )
            for i, volume in enumerate(np.exp(rng.normal(3.6, 1.0, parts)))
        ),
        services=at,
        stocks=stocks,
        machines=machines,
        shops=(Service(name="shop", shipping_cents=590),),
        terms=Terms(
            own_cents_per_min=20,
            day_cents=int(rng.integers(0, 8)) * 100 if day_cents is None else day_cents,
            attended_min_per_day=180,
            tail_d=1,
            deadline_d=deadline,
            most_hazard=most_hazard,
            may_run_alone=True,
        ),
    )


def _home(rng, volume, machines, stocks, rate):
    machine = machines[rng.integers(len(machines))]
    pieces = int(rng.choice([1, 1, 2, 3]))
    minutes = int(volume * rng.uniform(4.0, 9.0)) + 20 * pieces
    hazard = rate[machine.name] * rng.uniform(0.7, 1.4)
    piece_h = minutes / 60.0 / pieces
    expected_h = pieces * np.expm1(hazard * piece_h) / hazard
    return AtHome(
        printer=machine.name,
        feedstock=stocks[rng.integers(len(stocks))].feedstock,
        pieces=pieces,
        expected_min=round(60.0 * expected_h),
        grams=int(volume * 1.2) + 5 * pieces,
        own_min=15 * pieces + 20 * (pieces - 1),
        machine_cents=int(minutes * 0.3),
        risk_cents=round(120.0 * (expected_h - minutes / 60.0)),
        long_hazard=hazard * minutes / 60.0 if minutes / pieces >= 480 else 0.0,
        alone=minutes / pieces > 14 * 60,
    )


def _sent(rng, volume, services):
    return SentOut(
        service=services[rng.integers(len(services))].name,
        cents=int(300 + volume * rng.uniform(25.0, 60.0)),
        lead_d=int(rng.integers(5, 14)),
    )
