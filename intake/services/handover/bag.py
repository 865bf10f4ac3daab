"""`kinfold export bag`: a consignment or a family as a BagIt 1.0 bag (RFC 8493), whole enough to be received elsewhere.

    data/originals/     the received files, by SHA-256    data/records/    what is on record, in plain formats
    data/derivatives/   pictures made of them             data/alto/       the text that was read
    data/features/      what they are found by            data/ledger/     its rows, one file a table
    data/premis.xml     what was done with each file   data/mets.xml, if asked: which file is of which piece

Every file is read once: copied, and both digests taken, beside what is made of the ledger. No path in the bag is built
from a received name.
"""

import json
import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from intake.config.load import Config
from intake.errors import HomeError, UsageError
from intake.model import PartKey, Stamps
from intake.services.alto import alto_files
from intake.services.dossiers import Dossier
from intake.services.handover.bagit_form import ALGORITHMS, DECLARATION, manifest
from intake.services.handover.copying import Copier, CopiesBeside, Digests
from intake.services.handover.files import write_text
from intake.services.handover.light import light_view, whole
from intake.services.handover.mets import PieceFiles, mets
from intake.services.handover.premis import Event, File, premis
from intake.services.handover.record import ALL, Records, Wanted
from intake.services.handover.records import records
from intake.services.handover.sound import sound
from intake.services.handover.writing import export_records
from intake.services.home import PICTURES, Home, features_path, now, picture_path
from intake.services.known import Known
from intake.services.said import PAST
from intake.store import carry, decisions, ledger, runs, scans


@dataclass(slots=True)
class Bagged:
    """What went into a bag: path in it -> what the file is known by."""

    files: dict[str, Digests] = field(default_factory=dict)

    @property
    def oxum(self) -> str:
        """Octets and files of the payload (RFC 8493, section 2.2.2)."""
        of = [d.size for path, d in self.files.items() if path.startswith("data/")]
        return f"{sum(of)}.{len(of)}"


def export_bag(
    home: Home,
    config: Config,
    to: Path,
    wanted: Wanted = ALL,
    made_at: str = "",
    with_mets: bool = False,
) -> Bagged:
    """Write a bag into the folder ``to``, which must not be there yet; it bears that name only when it is whole.

    ``made_at`` is the stated time; ``with_mets`` asks for METS beside PREMIS. Raises UsageError where ``to`` is there,
    an original is missing or is not the file that was received any more; HomeError where the bag cannot be written.
    """
    made_at = made_at or now()
    if to.exists():
        raise UsageError(f"{to}: is there already. A bag is never written over: name another folder.")
    known = light_view(home, config)
    found = records(home, config, wanted, known)
    temporary = to.with_name(f".{to.name}.{os.getpid()}")
    try:
        temporary.mkdir(parents=True, mode=0o700)
        try:
            bagged = _Bagging(home, config, temporary, wanted, made_at).fill(known, found, with_mets)
            temporary.rename(to)
        finally:
            shutil.rmtree(temporary, ignore_errors=True)
    except OSError as error:
        raise HomeError(f"{to}: cannot be written ({error.strerror}).") from error
    return bagged


class _Bagging:
    def __init__(self, home: Home, config: Config, at: Path, wanted: Wanted, made_at: str) -> None:
        self.home, self.config, self.at, self.wanted, self.made_at = home, config, at, wanted, made_at
        self.bagged = Bagged()
        self.derived: dict[PartKey, list[str]] = {}
        with home.database.read() as connection:
            self.stamps = runs.current_stamps(connection) or Stamps({}, "", "")
            self.folders = {c.code: Path(c.folder) for c in scans.consignments(connection)}

    def fill(self, known: Known, found: Records, with_mets: bool) -> Bagged:
        names = {p.name for p in found.pieces}
        parts = [d for d in known.parts if (d.scan.consignment, d.scan.box, d.piece) in names or self._is_reference(d)]
        originals, made = self._originals(parts), self._made_of_them(parts)
        sources = {**originals, **made}
        with CopiesBeside((source, self.at / path) for path, source in sources.items()) as copies:
            export_records(self.home, self.config, self.at / "data/records", made_at=self.made_at, made=found)
            self._alto({d.key.digest for d in parts})
            self._ledger(parts)
            self._proved(sources, copies, originals)
        write_text(self.at / "data/premis.xml", premis(self._files(parts), self._events(parts)))
        with Copier() as copier:
            self._digest_rest(copier)
            if with_mets:
                self._mets(parts, copier)
            self._tags(found, copier)
        return self.bagged

    def _is_reference(self, d: Dossier) -> bool:
        """Pictures that are not property go with the whole of a consignment: its matches name them."""
        return d.scan.is_reference and not self.wanted.family and self.wanted.consignment in ("", d.scan.consignment)

    def _originals(self, parts: list[Dossier]) -> dict[str, Path]:
        """Path in the bag -> the received file."""
        first = {d.key.digest: d.scan for d in reversed(parts)}
        return {
            original_name(digest, scan.path): self.folders[scan.consignment] / scan.path
            for digest, scan in sorted(first.items())
        }

    def _made_of_them(self, parts: list[Dossier]) -> dict[str, Path]:
        """Path in the bag -> the picture or features in the home."""
        stages, found = self.stamps.stages, {}
        for key in sorted({d.key for d in parts}):
            made = [picture_path(self.home.folder, key, name, stages.get(by, "")) for name, by in PICTURES.items()]
            made.append(features_path(self.home.folder, key, stages.get("fingerprint", "")))
            for source in made:
                if source.is_file():
                    path = f"data/{source.relative_to(self.home.folder).as_posix()}"
                    found[path] = source
                    self.derived.setdefault(key, []).append(path)
        return found

    def _proved(self, sources: dict[str, Path], copies: CopiesBeside, originals: dict[str, Path]) -> None:
        """Take the copies' digests; those of originals are their names."""
        made, error = copies.answers()
        for (path, source), digests in zip(sources.items(), made, strict=False):
            if path in originals and not path.startswith(f"data/originals/{digests.sha256}"):
                raise UsageError(f"{source}: is not the file that was received. Put that one back, then again.")
            self.bagged.files[path] = digests
        if isinstance(error, FileNotFoundError):
            gone = list(sources.values())[len(made)]
            raise UsageError(f"{gone}: is not there any more. Put the received files back, then again.") from error
        if error:
            raise error

    def _alto(self, digests: set[str]) -> None:
        with self.home.database.read() as connection:
            chosen = (d for d in whole(connection, self.stamps) if d.key.digest in digests)
            for name, document in alto_files(chosen, self.stamps.stages.get("read", "")):
                path = self.at / "data/alto" / name
                path.parent.mkdir(exist_ok=True)
                path.write_bytes(document)  # the bag as a whole is what appears under its name when it is whole

    def _ledger(self, parts: list[Dossier]) -> None:
        digests, codes = {d.key.digest for d in parts}, {d.scan.consignment for d in parts}
        if self.wanted.consignment:
            codes.add(self.wanted.consignment)
        elif not self.wanted.family:
            codes |= set(self.folders)
        kept = {(d.scan.consignment, d.scan.box, d.scan.piece) for d in parts} if self.wanted.family else None
        with self.home.database.read() as connection:
            before: dict[str, set[object]] = {"families_of": set(carry.families_of(connection, digests))}
            for name in carry.ORDER:
                rows = carry.rows_of(connection, name, codes, digests, before)
                if kept is not None and name in ("listed", "move", "receipt_finding", "piece_relation"):
                    rows = (r for r in rows if (r["consignment"], r.get("box"), r.get("piece")) in kept)
                write_text(
                    self.at / f"data/ledger/{name}.jsonl",
                    (json.dumps(r, ensure_ascii=True, sort_keys=True) + "\n" for r in rows),
                )

    def _files(self, parts: list[Dossier]) -> Iterator[File]:
        for digest, d in sorted({d.key.digest: d for d in reversed(parts)}.items()):
            known = self.bagged.files[original_name(digest, d.scan.path)]
            file_format = d.checked.file_format if d.checked else ""
            yield File(digest, known.sha512, known.size, file_format, d.scan.path)

    def _events(self, parts: list[Dossier]) -> Iterator[Event]:
        stages = self.stamps.stages
        with self.home.database.read() as connection:
            received = {c.code: c.received_at for c in scans.consignments(connection)}
            at = {stage: ledger.made_at(connection, stage, stages.get(stage, "")) for stage in ("check", "parse")}
            ruled = decisions.all_decisions(connection)
        for digest, d in sorted({d.key.digest: d for d in reversed(parts)}.items()):
            one, arrived = (digest,), received[d.scan.consignment]
            if d.checked and (scanned := instant(d.checked.scanned_at)):
                yield Event("capture", scanned, d.checked.scanner or "scanner not told", "hardware",
                            "as written in the file", "not checked", one)  # fmt: skip
            yield Event("message digest calculation", arrived, "Kinfold", "software", "SHA-256", "success", one)
            yield Event("ingestion", arrived, "Kinfold", "software", "taken on record", "success", one)
            if d.checked and digest in at["check"]:
                bad = [f.code for f in d.checked.findings if f.severity == "failure"]
                outcome = f"fail: {', '.join(bad)}" if bad else "pass"
                yield Event("validation", at["check"][digest], "Kinfold", "software", "decoded whole", outcome, one)
            if digest in at["parse"]:
                yield Event("metadata extraction", at["parse"][digest], "Kinfold", "software",
                            "text, marks, size, kind", "success", one)  # fmt: skip
            yield Event("fixity check", self.made_at, "Kinfold", "software", "SHA-256 as at receipt", "pass", one)
            yield Event("replication", self.made_at, "Kinfold", "software", "copied into this bag", "success", one)
        here = {d.key.digest for d in parts}
        for decision in ruled:
            of = tuple(sorted({k.digest for k in decision.parts}))
            if of and set(of) <= here:
                detail = f"ruling {decision.id}: {PAST.get(decision.verb, decision.verb)}"
                yield Event("appraisal", decision.made_at, decision.who, "person", detail, "on record", of)

    def _mets(self, parts: list[Dossier], copier: Copier) -> None:
        made: dict[tuple[str, str, str], list[str]] = {}
        for d in parts:
            here = made.setdefault((d.scan.consignment, d.scan.box, d.piece), [])
            here += [original_name(d.key.digest, d.scan.path), *self.derived.get(d.key, ())]
        of = (PieceFiles(*name, tuple(p for p in paths if p in self.bagged.files)) for name, paths in made.items())
        path = self.at / "data/mets.xml"
        write_text(path, mets(self._of(), self.bagged.files, of, self.made_at))
        self.bagged.files["data/mets.xml"] = copier.copy(path, None)

    def _of(self) -> str:
        return self.wanted.family or self.wanted.consignment or "all consignments"

    def _digest_rest(self, copier: Copier) -> None:
        for path in sorted((self.at / "data").rglob("*")):
            name = path.relative_to(self.at).as_posix()
            if path.is_file() and name not in self.bagged.files:
                self.bagged.files[name] = copier.copy(path, None)

    def _tags(self, found: Records, copier: Copier) -> None:
        files = self.bagged.files
        write_text(self.at / "bagit.txt", [DECLARATION])
        info = {
            "Bag-Software-Agent": "Kinfold",
            "Bagging-Date": self.made_at[:10],
            "External-Identifier": self._of(),
            "External-Description": f"{len(found.pieces)} pieces, {len(found.families)} families; "
            f"pieces of a private kind left out: {found.private_left_out}",
            "Payload-Oxum": self.bagged.oxum,
        }
        write_text(self.at / "bag-info.txt", (f"{k}: {_one_line(v)}\n" for k, v in info.items()))
        for algorithm in ALGORITHMS:
            lines = [(path, getattr(d, algorithm)) for path, d in files.items() if path.startswith("data/")]
            write_text(self.at / f"manifest-{algorithm}.txt", [manifest(lines)])
        self._digest_tags(copier)

    def _digest_tags(self, copier: Copier) -> None:
        tags = sorted(p for p in self.at.iterdir() if p.is_file())
        digests = {p.name: copier.copy(p, None) for p in tags}
        for algorithm in ALGORITHMS:
            lines = [(name, getattr(d, algorithm)) for name, d in digests.items()]
            write_text(self.at / f"tagmanifest-{algorithm}.txt", [manifest(lines)])


def original_name(digest: str, path: str) -> str:
    """Where an original lies in a bag: its digest, and its ending where that is a plain one."""
    ending = Path(path).suffix.lower()
    return f"data/originals/{digest}{ending if re.fullmatch(r'[.][a-z0-9]{1,5}', ending) else ''}"


def instant(text: str) -> str:
    """A time as files write it (``2026:11:02 20:15:00``, EXIF 2.32; or ISO 8601) as ISO 8601; empty if it is none."""
    plain = re.sub(r"^(\d{4}):(\d\d):(\d\d)", r"\1-\2-\3", text.strip())
    try:
        return datetime.fromisoformat(plain).isoformat()
    except ValueError:
        return ""


def _one_line(text: str) -> str:
    return " ".join(sound(text).split())[:400]
