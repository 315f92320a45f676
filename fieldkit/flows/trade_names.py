"""What people call materials and kinds of joint, beside the ids of our tables."""

from __future__ import annotations

import re


def key_of(text: str) -> str:
    """A word as a program compares it: small letters, one ``_`` between words.

    Examples
    --------
    >>> key_of("Hazen–Williams")
    'hazen_williams'
    """
    return re.sub(r"[^a-z0-9]+", "_", text.casefold()).strip("_")


def by_name(names: dict[str, str]) -> dict[str, str]:
    """Each name, and the id itself, to the id that it stands for.

    Examples
    --------
    >>> by_name({"darcy": "darcy_weisbach dw"})
    {'darcy': 'darcy', 'darcy_weisbach': 'darcy', 'dw': 'darcy'}
    """
    return {name: one for one, said in names.items() for name in (one, *said.split())}


#: Names of materials, by their ids in materials.csv.
MATERIALS = {
    "pvc": "upvc pvc_u rigid_pvc rigid",
    "cpvc": "",
    "pe": "poly polyethylene hdpe mdpe pe80 pe100 pe3408 pe3608 poly_pipe pe_pipe",
    "pe4710": "",
    "drip": "ldpe lldpe tubing tube drip_tubing drip_tube dripline poly_tubing",
    "pex": "",
    "copper": "",
}

#: Names of kinds of joint, by their ids in joints.csv.
JOINTS = {
    "solvent_socket": "solvent solvent_weld solvent_joint socket glue glued glued_joint cement "
    "cemented cement_joint weld solvent_cement slip coupling tee elbow solvent_welded",
    "solvent_spigot": "spigot bushing",
    "npt": "thread threads threaded npt_thread pipe_thread fipt mipt fpt mpt fnpt mnpt "
    "threaded_joint threaded_adapter male_adapter female_adapter",
    "npt_swivel": "swivel swivel_nut",
    "hose": "hose_thread garden_hose ght fht mht",
    "barb_bare": "barb bare_barb barb_no_clamp barb_unclamped unclamped_barb barb_without_clamp "
    "insert_bare",
    "barb_clamped": "clamped_barb barb_with_clamp barb_and_clamp barb_clamp clamp insert "
    "insert_fitting insert_clamped",
    "collar": "locking_nut threaded_collar lock_nut nut_lock locking_nut_barb collar_barb",
    "ring": "compression push_in push_in_ring compression_ring push_in_compression "
    "compression_fitting",
    "grip_tube": "push_to_connect push_connect",
    "grip_pvc": "grip grip_ring push_fit push_fit_pvc push_to_connect_pvc pvc_grip",
    "micro_barb": "micro",
}
