"""What licence a package is under, from its metadata.

Packages state it in three ways: as an SPDX expression (the present standard), as classifiers, and
as free words. The first that says something is taken.
"""

from __future__ import annotations

from importlib.metadata import PackageMetadata

# Classifiers and words that mean one SPDX licence. 'BSD' alone does not say which, so it stays.
_SPDX = {
    "Apache 2.0": "Apache-2.0",
    "Apache Software License": "Apache-2.0",
    "BSD 3-Clause License": "BSD-3-Clause",
    "BSD License": "BSD",
    "GNU General Public License v2 (GPLv2)": "GPL-2.0-only",
    "GNU General Public License v2 or later (GPLv2+)": "GPL-2.0-or-later",
    "GNU General Public License v3 (GPLv3)": "GPL-3.0-only",
    "GNU General Public License v3 or later (GPLv3+)": "GPL-3.0-or-later",
    "GNU Lesser General Public License v2 or later (LGPLv2+)": "LGPL-2.0-or-later",
    "GNU Lesser General Public License v3 (LGPLv3)": "LGPL-3.0-only",
    "GNU Lesser General Public License v3 or later (LGPLv3+)": "LGPL-3.0-or-later",
    "ISC License": "ISC",
    "ISC License (ISCL)": "ISC",
    "MIT License": "MIT",
    "MIT No Attribution License (MIT-0)": "MIT-0",
    "Mozilla Public License 1.1 (MPL 1.1)": "MPL-1.1",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "Python Software Foundation License": "PSF-2.0",
    "Revised BSD": "BSD-3-Clause",
}
# The package's own words, where its metadata is silent or does not say whether there is a choice.
_READ_IN_THE_PACKAGE = {
    # Its releases before 8 say nothing; those since say MIT.
    "coolprop": "MIT",
    # Its licence file: "GPL 2.0+/LGPL 2.1+/MPL 1.1 tri-license". We take it under the MPL.
    "pyphen": "GPL-2.0-or-later OR LGPL-2.1-or-later OR MPL-1.1",
    # Its licence files: LICENSE-MIT and LICENSE-APACHE.
    "uvloop": "MIT OR Apache-2.0",
}
# Words by which a licence's own text is known.
_OPENINGS = {
    "Permission is hereby granted, free of charge, to any person obtaining a copy": "MIT",
    "Apache License Version 2.0": "Apache-2.0",
    "Redistribution and use in source and binary forms": "BSD",
}
_LONGEST = 60


def licence_of(name: str, metadata: PackageMetadata, files: dict[str, str]) -> str:
    """Give a package's licence, or "" where nothing states one.

    Parameters:
        name: of the package.
        metadata: as the installer keeps it.
        files: its licence files, name to text: read only where the metadata is silent.
    """
    known = _READ_IN_THE_PACKAGE.get(name.lower())
    expression = _field(metadata, "License-Expression")
    if expression or known:
        return expression or str(known)
    classifiers = [
        words.rsplit(" :: ", 1)[-1]
        for words in metadata.get_all("Classifier") or []
        if words.startswith("License ::") and words.count("::") > 1
    ]
    if classifiers:
        return " AND ".join(_SPDX.get(c, c) for c in classifiers)
    words = _field(metadata, "License")
    if 0 < len(words) <= _LONGEST:
        return _SPDX.get(words, words)
    return _by_its_file(files)


def _field(metadata: PackageMetadata, name: str) -> str:
    return " ".join(str(metadata[name]).split()) if name in metadata else ""


def _by_its_file(files: dict[str, str]) -> str:
    """Recognise a licence by the opening of its text."""
    for text in files.values():
        opening = " ".join(text[:1000].split())
        for words, licence in _OPENINGS.items():
            if words in opening:
                return licence
    return ""
