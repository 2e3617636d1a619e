import pytest

from roomwright._errors import InputError
from roomwright.model import OCTAVE_BANDS_HZ, Surface
from roomwright.standards import materials

NEEDED = (
    "carpet on underlay",
    "painted plasterboard on studs",
    "wood floor",
    "heavy drape",
    "fabric-wrapped 50 mm absorber",
    "mineral-wool 100 mm absorber",
    "plastered masonry",
    "glass",
    "wood panelling",
    "acoustic door",
    "diffuser, timber",
    "bass absorber panel",
)


@pytest.mark.parametrize("name", materials.MATERIALS)
def test_every_material_makes_a_surface(name):
    surface = Surface(material=name, absorption=materials.material(name))
    assert len(surface.absorption) == len(OCTAVE_BANDS_HZ)


def test_needed_materials_are_there():
    assert set(NEEDED) <= set(materials.MATERIALS)


@pytest.mark.parametrize(
    ("name", "handbook"),
    [
        ("carpet on concrete", (0.02, 0.06, 0.14, 0.37, 0.60, 0.65)),
        ("carpet on underlay", (0.08, 0.24, 0.57, 0.69, 0.71, 0.73)),
        ("heavy drape", (0.14, 0.35, 0.55, 0.72, 0.70, 0.65)),
        ("painted plasterboard on studs", (0.29, 0.10, 0.05, 0.04, 0.07, 0.09)),
        ("wood floor", (0.15, 0.11, 0.10, 0.07, 0.06, 0.07)),
        ("glass", (0.35, 0.25, 0.18, 0.12, 0.07, 0.04)),
        ("wood panelling", (0.28, 0.22, 0.17, 0.09, 0.10, 0.11)),
    ],
)
def test_handbook_values_from_125_hz_to_4_khz(name, handbook):
    # Harris and Everest tables, from memory.
    assert materials.material(name)[1:7] == handbook


def test_unknown_material_lists_the_known():
    with pytest.raises(InputError, match="carpet on underlay; "):
        materials.material("velvet")
