"""What makes the file PDF/A-3 and PDF/UA-1: metadata, colours, attachments with their relationship, a fixed
date."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from html import escape
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import pikepdf
from pikepdf import Array, Dictionary, Name, Stream, String

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from certgen.typeset.design import Settings
    from certgen.typeset.parts import Attachment


def _read_profile() -> bytes:
    """The colours' meaning, as it comes with WeasyPrint, which needn't be loaded for it."""
    found = find_spec("weasyprint")
    if found is None or found.origin is None:
        message = "No module named 'weasyprint'"
        raise ModuleNotFoundError(message, name="weasyprint")
    return Path(found.origin).with_name("pdf").joinpath("sRGB2014.icc").read_bytes()


def _pdf_date(epoch: int) -> str:
    return datetime.fromtimestamp(epoch, UTC).strftime("D:%Y%m%d%H%M%SZ")


def embed(pdf: pikepdf.Pdf, attachments: Sequence[Attachment], epoch: int) -> dict[str, pikepdf.Object]:
    """Put files into the document, each with its media type, its hash and what it is to the document.

    Gives what describes each file, by name, in the order of the names.
    """
    specs: dict[str, pikepdf.Object] = {}
    for attachment in sorted(attachments, key=lambda attachment: attachment.name.encode()):
        stream = Stream(pdf, attachment.data)
        stream.Type = Name.EmbeddedFile
        stream.Subtype = Name("/" + attachment.media_type)
        stream.Params = Dictionary(
            Size=len(attachment.data),
            ModDate=String(_pdf_date(epoch)),
            # The format asks for this digest; the manifest's SHA-256 is what a reader relies on.
            CheckSum=String(hashlib.md5(attachment.data, usedforsecurity=False).digest()),
        )
        embedded = pdf.make_indirect(stream)
        specs[attachment.name] = pdf.make_indirect(
            Dictionary(
                Type=Name.Filespec,
                F=String(attachment.name),
                UF=String(attachment.name),
                Desc=String(attachment.description),
                EF=Dictionary(F=embedded, UF=embedded),
                AFRelationship=Name("/" + attachment.relationship),
            )
        )
    return specs


def list_attached(pdf: pikepdf.Pdf, specs: Mapping[str, pikepdf.Object]) -> None:
    """Say in the document's catalogue which files it holds; `specs` are those of `embed`."""
    if not specs:
        return
    names = [item for name, spec in specs.items() for item in (String(name), spec)]
    pdf.Root.Names.EmbeddedFiles = pdf.make_indirect(Dictionary(Names=Array(names)))
    pdf.Root.AF = Array(list(specs.values()))
    pdf.Root.PageMode = Name.UseOutlines


def declare(pdf: pikepdf.Pdf, settings: Settings, producer: str) -> None:
    """Say what the file is and what made it, and give its colours a meaning."""
    profile = Stream(pdf, _read_profile())
    profile.N = 3
    pdf.Root.OutputIntents = Array(
        [
            Dictionary(
                Type=Name.OutputIntent,
                S=Name.GTS_PDFA1,
                OutputConditionIdentifier=String("sRGB"),
                Info=String("sRGB IEC61966-2.1"),
                DestOutputProfile=pdf.make_indirect(profile),
            )
        ]
    )
    moment = datetime.fromtimestamp(settings.epoch, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    metadata = Stream(pdf, _xmp(settings.title, settings.language, moment, producer).encode())
    metadata.Type = Name.Metadata
    metadata.Subtype = Name.XML
    pdf.Root.Metadata = pdf.make_indirect(metadata)
    pdf.docinfo["/Title"] = String(settings.title)
    pdf.docinfo["/Producer"] = String(producer)
    pdf.docinfo["/CreationDate"] = String(_pdf_date(settings.epoch))
    pdf.docinfo["/ModDate"] = String(_pdf_date(settings.epoch))


def _xmp(title: str, language: str, moment: str, producer: str) -> str:
    # PDF/UA's part is no part of PDF/A's own vocabulary: PDF/A asks that its schema be described.
    return f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/"
 xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
 xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/">
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{escape(title)}</rdf:li></rdf:Alt></dc:title>
<dc:language><rdf:Bag><rdf:li>{escape(language)}</rdf:li></rdf:Bag></dc:language>
<xmp:CreateDate>{moment}</xmp:CreateDate><xmp:ModifyDate>{moment}</xmp:ModifyDate>
<pdf:Producer>{escape(producer)}</pdf:Producer>
<pdfaid:part>3</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance><pdfuaid:part>1</pdfuaid:part>
</rdf:Description>
<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA Universal Accessibility Schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name><pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Which part of ISO 14289 the file follows</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
</rdf:RDF></x:xmpmeta>
<?xpacket end="w"?>"""
