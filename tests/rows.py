"""Plain rows for tests: one printer, feedstock and recipe of each process, made by hand.

The numbers are round ones near common practice; they belong to no machine and to no table. Every
function takes field=value overrides.
"""

from dataclasses import replace

from buildplan.tables.feedstock import ExtrusionFeedstock, VatFeedstock
from buildplan.tables.printer import ExtrusionPrinter, VatPrinter
from buildplan.tables.recipe import ExtrusionRecipe, VatRecipe

_PRINTER = ExtrusionPrinter(
    key="test-printer",
    name="test printer",
    about="a printer for tests",
    platform="rectangle",
    width_mm=300.0,
    depth_mm=300.0,
    height_mm=300.0,
    platform_margin_mm=5.0,
    nozzle_mm=0.4,
    reel_diameter_mm=1.75,
    speed_limit_mm_s=300.0,
    travel_mm_s=150.0,
    print_accel_mm_s2=1500.0,
    outline_accel_mm_s2=1000.0,
    travel_accel_mm_s2=2000.0,
    corner_deviation_mm=0.02,
    flow_limit_mm3_s=12.0,
    retract_s=0.2,
    layer_speed_mm_s=10.0,
    layer_accel_mm_s2=100.0,
    head_clear_mm=45.0,
    beam_clear_mm=25.0,
    nozzle_max_c=260.0,
    platform_max_c=100.0,
    enclosed=False,
    warm_up_s=240.0,
    warm_up_w=200.0,
    hold_w=60.0,
    motion_w=40.0,
    price_cost=400.0,
    life_h=4000.0,
    upkeep_cost_h=0.05,
    set_up_min=15.0,
    time_spread_frac=0.2,
)

_VAT_PRINTER = VatPrinter(
    key="test-vat",
    name="test vat printer",
    about="a vat printer for tests",
    platform="rectangle",
    width_mm=150.0,
    depth_mm=80.0,
    height_mm=160.0,
    platform_margin_mm=2.0,
    pixel_mm=0.05,
    lift_accel_mm_s2=50.0,
    warm_up_s=60.0,
    light_w=45.0,
    hold_w=15.0,
    price_cost=300.0,
    life_h=2000.0,
    upkeep_cost_h=0.15,
    set_up_min=20.0,
    time_spread_frac=0.1,
)

_FEEDSTOCK = ExtrusionFeedstock(
    key="test-pla",
    name="test feedstock",
    density_g_cm3=1.24,
    price_cost_kg=20.0,
    pack_g=1000.0,
    heat_deflection_c=55.0,
    glass_transition_c=60.0,
    service_c=45.0,
    conductivity_w_mk=0.18,
    expansion_um_mk=70.0,
    modulus_mpa=3300.0,
    shrink_frac=0.003,
    nozzle_low_c=195.0,
    nozzle_high_c=220.0,
    platform_c=60.0,
    needs_enclosure=False,
    flow_limit_mm3_s=15.0,
    dry_c=45.0,
    dry_h=6.0,
    moisture="takes up little water",
    hazards="air the room",
    good_for="stiff parts at room temperature",
    bad_for="warm places",
)

_VAT_FEEDSTOCK = VatFeedstock(
    key="test-resin",
    name="test photopolymer",
    density_g_cm3=1.18,
    liquid_density_g_cm3=1.10,
    price_cost_l=40.0,
    pack_ml=1000.0,
    heat_deflection_c=60.0,
    glass_transition_c=65.0,
    service_c=45.0,
    conductivity_w_mk=0.2,
    expansion_um_mk=90.0,
    modulus_mpa=2000.0,
    shrink_frac=0.01,
    exposure_factor_frac=1.0,
    film_mm=0.1,
    wash_min=10.0,
    cure_min=10.0,
    moisture="keep the bottle closed",
    hazards="sensitises skin: wear nitrile gloves",
    good_for="small sharp details",
    bad_for="impact and sunlight",
)

_RECIPE = ExtrusionRecipe(
    key="test-recipe",
    name="test recipe",
    about="a recipe for tests",
    layer_mm=0.2,
    bead_mm=0.45,
    wall_beads=2,
    floor_layers=4,
    roof_layers=4,
    infill_frac=0.15,
    infill_style="parallel",
    slit_fill="sparse",
    margin_beads=0,
    supports=False,
    overhang_limit_deg=45.0,
    bridge_limit_mm=10.0,
    support_frac=0.15,
    support_gap_layers=1,
    support_clearance_mm=0.8,
    support_face_layers=3,
    support_least_mm2=2.0,
    outline_mm_s=40.0,
    wall_mm_s=60.0,
    centre_mm_s=40.0,
    infill_mm_s=80.0,
    floor_roof_mm_s=50.0,
    support_mm_s=60.0,
    support_face_mm_s=40.0,
    margin_mm_s=30.0,
    first_layer_frac=0.5,
    retract_over_mm=1.5,
    retract_always_over_mm=60.0,
    layer_time_least_s=8.0,
    speed_least_mm_s=10.0,
)

_VAT_RECIPE = VatRecipe(
    key="test-vat-recipe",
    name="test vat recipe",
    about="a vat recipe for tests",
    layer_mm=0.05,
    exposure_s=2.5,
    first_exposure_s=30.0,
    first_layers=5,
    ramp_layers=5,
    lift_mm=6.0,
    lift_mm_s=2.0,
    lower_mm_s=3.0,
    slow_area_mm2=3000.0,
    slow_lift_mm_s=1.0,
    rest_before_s=1.0,
    rest_after_s=0.5,
    supports=False,
    overhang_limit_deg=60.0,
    tip_pitch_mm=4.0,
    tip_mm=0.4,
    tip_length_mm=2.0,
    column_mm=1.2,
    hollow_wall_mm=0.0,
)


def printer(**changes):
    """A material extrusion printer."""
    return replace(_PRINTER, **changes)


def vat_printer(**changes):
    """A vat photopolymerization printer."""
    return replace(_VAT_PRINTER, **changes)


def feedstock(**changes):
    """A thermoplastic."""
    return replace(_FEEDSTOCK, **changes)


def vat_feedstock(**changes):
    """A photopolymer."""
    return replace(_VAT_FEEDSTOCK, **changes)


def recipe(**changes):
    """A material extrusion recipe."""
    return replace(_RECIPE, **changes)


def vat_recipe(**changes):
    """A vat photopolymerization recipe."""
    return replace(_VAT_RECIPE, **changes)
