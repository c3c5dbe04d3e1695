"""The catalogue of types: pins by number, roles, what the outputs do, organisation, family levels."""

from kilter.parts.catalogue.equations import Equation
from kilter.parts.catalogue.expression import Expression
from kilter.parts.catalogue.find import find_type, find_types
from kilter.parts.catalogue.read import catalogue_types
from kilter.parts.catalogue.type import CataloguePin, CatalogueType

__all__ = [
    "CataloguePin",
    "CatalogueType",
    "Equation",
    "Expression",
    "catalogue_types",
    "find_type",
    "find_types",
]
