"""Print the bill of materials (CycloneDX 1.6, JSON): every locked package with its hashes, and what the pages bring along.

With --image, what is under it as well: the interpreter and the Debian packages of the image in which this runs.
"""  # noqa: INP001  # no package

from __future__ import annotations

import platform
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from cyclonedx.model import ExternalReference, ExternalReferenceType, HashAlgorithm, HashType, XsUri
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.model.license import DisjunctiveLicense
from cyclonedx.output.json import JsonV1Dot6
from packageurl import PackageURL
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]
VENDORED = ROOT / "api/platemargin_api/pages/assets/VENDORED.toml"
#: One Debian package a line, of which some may have been removed and left their settings.
DPKG = ["dpkg-query", "--show", "--showformat", "${db:Status-Status} ${Package} ${Version} ${Architecture}\n"]


@dataclass(frozen=True)
class Locked:
    """A package of the lock: what may be installed of it, and what asks for it."""

    component: Component
    asked_for_by: tuple[str, ...]


def main() -> None:
    """Print it."""
    bom = Bom()
    add_project(bom)
    if "--image" in sys.argv[1:]:
        add_base(bom)
    sys.stdout.write(JsonV1Dot6(bom).output_as_string(indent=2) + "\n")


def add_project(bom: Bom) -> None:
    """Add the project, what it is installed with, and what its pages bring of others."""
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    project = Component(
        name=told["name"],
        version=told["version"],
        type=ComponentType.APPLICATION,
        licenses=[DisjunctiveLicense(id=told["license"])],
        purl=PackageURL("pypi", name=told["name"], version=told["version"]),
        bom_ref=told["name"],
    )
    bom.metadata.component = project
    packages = list(locked((ROOT / "requirements.txt").read_text(encoding="utf-8")))
    brought = [vendored(name, said) for name, said in tomllib.loads(VENDORED.read_text(encoding="utf-8")).items()]
    bom.components.update(brought, (package.component for package in packages))
    for asking in (project, *(package.component for package in packages)):
        asked = [package.component for package in packages if asking.name in package.asked_for_by]
        bom.register_dependency(asking, asked + (brought if asking is project else []))


def locked(lock: str) -> Iterator[Locked]:
    """Return the packages of a lock that hold for this Python; each has its hashes and, in comments, what asks for it."""
    for entry in re.split(r"\n(?=\S)", lock):
        requirement = Requirement(entry.partition("\\")[0])
        if requirement.marker is None or requirement.marker.evaluate():
            (pinned,) = requirement.specifier
            purl = PackageURL("pypi", name=requirement.name, version=pinned.version)
            files = [distribution(purl, digest) for digest in re.findall(r"--hash=sha256:([0-9a-f]{64})", entry)]
            component = library(purl, external_references=files)
            yield Locked(component, tuple(re.findall(r"^ +# +(?:via +)?(?!via$)(\S+)", entry, re.MULTILINE)))


def distribution(purl: PackageURL, digest: str) -> ExternalReference:
    """Return a file that the package may be installed from, known by its hash alone."""
    file = PackageURL(purl.type, name=purl.name, version=purl.version, qualifiers={"checksum": f"sha256:{digest}"})
    return ExternalReference(type=ExternalReferenceType.DISTRIBUTION, url=XsUri(str(file)), hashes=[sha256(digest)])


def vendored(name: str, said: dict[str, str]) -> Component:
    """Return a package of which files are part of this project."""
    files = [
        Component(name=file, type=ComponentType.FILE, hashes=[sha256(digest)])
        for file, digest in said.items()
        if file.endswith((".js", ".css"))
    ]
    purl = PackageURL("npm", name=name, version=said["version"])
    return library(purl, components=files, licenses=[DisjunctiveLicense(id=said["licence"])])


def add_base(bom: Bom) -> None:
    """Add the interpreter, and the system with its packages."""
    python = library(PackageURL("generic", name="python", version=platform.python_version()), type=ComponentType.PLATFORM)
    release = platform.freedesktop_os_release()
    system = Component(name=release["ID"], version=release["VERSION_ID"], type=ComponentType.OPERATING_SYSTEM, bom_ref="system")
    packages = list(debian(release["ID"], release["VERSION_CODENAME"]))
    bom.components.update([python, system], packages)
    bom.register_dependency(system, packages)


def debian(distribution: str, codename: str) -> Iterable[Component]:
    """Return the Debian packages that are installed where this runs."""
    for line in subprocess.run(DPKG, check=True, capture_output=True, text=True).stdout.splitlines():  # noqa: S603  # ours
        status, name, version, architecture = line.split(" ")
        if status == "installed":
            qualifiers = {"arch": architecture, "distro": codename}
            yield library(PackageURL("deb", distribution, name, version, qualifiers))


def library(purl: PackageURL, **more: object) -> Component:
    """Return a component that is known by its package URL."""
    return Component(name=purl.name, version=purl.version, purl=purl, bom_ref=str(purl), **more)


def sha256(digest: str) -> HashType:
    """Return a hash."""
    return HashType(alg=HashAlgorithm.SHA_256, content=digest)


if __name__ == "__main__":
    main()
