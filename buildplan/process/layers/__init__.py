"""Part -> Layers: closed, oriented rings at the middle of every layer, grouped into islands."""

from buildplan.process.layers.cut import cut_layers, section_planes
from buildplan.process.layers.model import Layers

__all__ = ["Layers", "cut_layers", "section_planes"]
