"""A STEP file of one box, written out by hand after ISO 10303-21 and AP214."""

import itertools

HEAD = (
    "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\n"
    "FILE_NAME('box','2026-01-01T00:00:00',(''),(''),'','','');\n"
    "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));\nENDSEC;\nDATA;\n"
)


def _face(put, direction, place, edges, axis, side):
    """One side of the box, its loop counter-clockwise seen from outside."""
    u, v = (axis + 1) % 3, (axis + 2) % 3
    ring = []
    for a, b in ((0, 0), (1, 0), (1, 1), (0, 1)):
        corner = [0, 0, 0]
        corner[axis], corner[u], corner[v] = side, a, b
        ring.append(tuple(corner))
    if not side:
        ring.reverse()
    bound = []
    for c, d in zip(ring, ring[1:] + ring[:1], strict=True):
        curve, turn = (edges[c, d], ".T.") if (c, d) in edges else (edges[d, c], ".F.")
        bound.append(put(f"ORIENTED_EDGE('',*,*,{curve},{turn})"))
    loop = put(f"EDGE_LOOP('',({','.join(bound)}))")
    outer = put(f"FACE_OUTER_BOUND('',{loop},.T.)")
    normal = direction([(2.0 * side - 1.0) * (k == axis) for k in range(3)])
    across = direction([float(k == u) for k in range(3)])
    frame = put(f"AXIS2_PLACEMENT_3D('',{place[ring[0]]},{normal},{across})")
    plane = put(f"PLANE('',{frame})")
    return put(f"ADVANCED_FACE('',({outer}),{plane},.T.)")


def step_box(size=(30.0, 20.0, 10.0), prefix=".MILLI."):
    """Bytes of a STEP file of a box with one corner at zero, in metres with an SI prefix."""
    lines = []

    def put(text):
        lines.append(f"#{len(lines) + 1}={text};")
        return f"#{len(lines)}"

    def point(xyz):
        return put("CARTESIAN_POINT('',({}))".format(",".join(f"{c:.6f}" for c in xyz)))

    def direction(xyz):
        return put("DIRECTION('',({}))".format(",".join(f"{c:.6f}" for c in xyz)))

    corners = list(itertools.product((0, 1), repeat=3))
    place = {c: point([size[k] * c[k] for k in range(3)]) for c in corners}
    vertex = {c: put(f"VERTEX_POINT('',{place[c]})") for c in corners}
    edges = {}
    for c in corners:
        for axis in range(3):
            if c[axis]:
                continue
            d = tuple(1 if k == axis else c[k] for k in range(3))
            along = put(f"VECTOR('',{direction([float(k == axis) for k in range(3)])},1.)")
            line = put(f"LINE('',{place[c]},{along})")
            edges[c, d] = put(f"EDGE_CURVE('',{vertex[c]},{vertex[d]},{line},.T.)")
    faces = [
        _face(put, direction, place, edges, axis, side)
        for axis, side in itertools.product(range(3), (0, 1))
    ]
    shell = put(f"CLOSED_SHELL('',({','.join(faces)}))")
    body = put(f"MANIFOLD_SOLID_BREP('box',{shell})")
    length = put(f"(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT({prefix},.METRE.))")
    angle = put("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
    solid = put("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
    doubt = put(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-07),{length},'','')")
    context = put(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT"
        f"(({doubt}))GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{solid}))"
        "REPRESENTATION_CONTEXT('',''))"
    )
    origin = point((0.0, 0.0, 0.0))
    zero = put(
        f"AXIS2_PLACEMENT_3D('',{origin},{direction((0.0, 0.0, 1.0))},{direction((1.0, 0.0, 0.0))})"
    )
    shape = put(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',({zero},{body}),{context})")
    application = put("APPLICATION_CONTEXT('automotive design')")
    product_context = put(f"PRODUCT_CONTEXT('',{application},'mechanical')")
    product = put(f"PRODUCT('box','box','',({product_context}))")
    formation = put(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
    design = put(f"PRODUCT_DEFINITION_CONTEXT('part definition',{application},'design')")
    definition = put(f"PRODUCT_DEFINITION('design','',{formation},{design})")
    defined = put(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
    put(f"SHAPE_DEFINITION_REPRESENTATION({defined},{shape})")
    return (HEAD + "\n".join(lines) + "\nENDSEC;\nEND-ISO-10303-21;\n").encode()
