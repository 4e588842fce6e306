"""The usual cautions for what a plan uses. They defer to local codes and licensed practice."""

from buildplan.plan import Plan


def cautions_for(plan: Plan) -> list[tuple[str, str]]:
    """Cautions as (head, text), those of the processes in use and the general ones."""
    processes = {item.feedstock.process for item in plan.parts}
    said = []
    if "extrusion" in processes:
        said += [
            (
                "Fire.",
                "Printing runs a heater for hours. Print only with a working smoke alarm in the "
                "room and someone awake in the building; no print is planned for an empty house.",
            ),
            (
                "Heat.",
                "Nozzle and platform burn skin. Let them cool before clearing the platform.",
            ),
            (
                "Fumes.",
                "Melting plastic gives off fine particles and vapours. Air the room; ABS, ASA and "
                "PC want an enclosure with extraction.",
            ),
        ]
    if "vat" in processes:
        said.append(
            (
                "Uncured photopolymer.",
                "It irritates and sensitises skin and eyes. Wear nitrile gloves and goggles, air "
                "the room, keep it from drains, and cure waste before it goes to the bin.",
            )
        )
    said += [
        (
            "Food and children.",
            "Printed parts are not food-safe as they come off the platform. Small parts, cords and "
            "magnets are not for small children.",
        ),
        (
            "Electricity.",
            "Mains wiring is work for a licensed electrician under the local code; use certified "
            "supplies with the right fuse, and keep water away from them.",
        ),
        (
            "Pinch points.",
            "A moving lid or arm can catch fingers: keep clear, cut the power before reaching in.",
        ),
        (
            "Loads.",
            "Printed parts creep, soften with heat and break along layers. Nothing here proves "
            "that a part may carry a person or hold something over one.",
        ),
    ]
    return said
