"""EPANET, driven through wntr: a second witness for lines of emitters."""

from __future__ import annotations

import tempfile
import warnings
from pathlib import Path

# wntr and what it brings warn of their own future on import; that is not ours to mend.
with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import wntr

from fieldkit.engine.hydraulics.march import Emitter

M_PER_FT = 0.3048
M_PER_IN = 0.0254
M3S_PER_GPM = 231 * M_PER_IN**3 / 60
#: Metres of water in one psi as EPANET has it: 0.4333 psi a foot.
M_PER_PSI = 0.3048 / 0.4333


def network(
    *, inlet_psi: float, exponent: float, headloss: str = "H-W"
) -> wntr.network.WaterNetworkModel:
    """An empty network with one source that holds ``inlet_psi``."""
    model = wntr.network.WaterNetworkModel()
    # wntr turns emitter coefficients into US units as if x were 0.5; metric units stay as given.
    model.options.hydraulic.inpfile_units = "LPS"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that roughness changes its meaning: we know
        model.options.hydraulic.headloss = headloss
    model.options.hydraulic.emitter_exponent = exponent
    model.options.hydraulic.accuracy = 1e-6
    model.options.hydraulic.trials = 500
    model.options.time.duration = 0
    model.add_reservoir("source", base_head=inlet_psi * M_PER_PSI)
    return model


def add_line(
    model: wntr.network.WaterNetworkModel,
    start: str,
    *,
    name: str,
    outlets: int,
    spacing_ft: float,
    bore_in: float,
    roughness: float,
    emitter: Emitter | None = None,
    rise: float = 0.0,
    height_ft: float = 0.0,
    barb_ft: float = 0.0,
    barb_k: float = 0.0,
    inlet_k: float = 0.0,
) -> list[str]:
    """Add a line of emitters (plain junctions where there is no emitter); returns their names.

    A barb is ``barb_ft`` more of its pipe, or EPANET's own minor loss ``barb_k``.
    """
    nodes = []
    before = start
    for number in range(1, outlets + 1):
        node = f"{name}{number}"
        model.add_junction(
            node, elevation=(height_ft + rise * spacing_ft * number) * M_PER_FT, base_demand=0.0
        )
        if emitter is not None:
            coefficient = emitter.k * M3S_PER_GPM / M_PER_PSI**emitter.exponent
            model.get_node(node).emitter_coefficient = coefficient
        model.add_pipe(
            f"p{node}",
            before,
            node,
            length=(spacing_ft + barb_ft) * M_PER_FT,
            minor_loss=barb_k + (inlet_k if number == 1 else 0.0),
            diameter=bore_in * M_PER_IN,
            roughness=roughness,
        )
        nodes.append(node)
        before = node
    return nodes


def pressures_psi(model: wntr.network.WaterNetworkModel) -> dict[str, float]:
    """Run EPANET and read the pressure at every node."""
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        results = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(Path(folder) / "net"))
    row = results.node["pressure"].iloc[0]
    return {name: float(value) / M_PER_PSI for name, value in row.items()}
