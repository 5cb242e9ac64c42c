"""The PDF against clauses of ISO 19005-3 (PDF/A-3, level A) and ISO 14289-1 (PDF/UA-1).

No full validator (a Java program) is to be had from the registries, so these are our own readings. Clause
numbers are from memory. Where a rule speaks of all objects, all objects are looked at, not those of a page.
"""

import io
import re
from itertools import pairwise
from xml.etree import ElementTree

import pikepdf
import pytest

pytestmark = pytest.mark.pdf

NAMESPACES = {
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "pdf": "http://ns.adobe.com/pdf/1.3/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "pdfaid": "http://www.aiim.org/pdfa/ns/id/",
}


@pytest.fixture(scope="module")
def file(sample_pdf):
    with pikepdf.open(io.BytesIO(sample_pdf.data)) as opened:
        yield opened


def dictionaries(file, **wanted):
    """All dictionaries and streams of the file that have these entries."""
    found = [thing for thing in everything(file) if isinstance(thing, pikepdf.Dictionary | pikepdf.Stream)]
    return [
        thing
        for thing in found
        if all(thing.get(f"/{key}") == pikepdf.Name(f"/{value}") for key, value in wanted.items())
    ]


def everything(file):
    """Indirect objects, and what stands inside them."""
    stack, found = list(file.objects), []
    while stack:
        thing = stack.pop()
        found.append(thing)
        if isinstance(thing, pikepdf.Array):
            inside = list(thing)
        elif isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
            inside = [thing[key] for key in thing.keys()]  # noqa: SIM118 - no mapping
        else:
            inside = []
        stack += [part for part in inside if isinstance(part, pikepdf.Object) and not part.is_indirect]
    return found


def tree(element, above=()):
    """Structure elements in reading order, each with those above it."""
    kids = element.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid, above
            yield from tree(kid, (*above, kid))


@pytest.fixture(scope="module")
def elements(file):
    return list(tree(file.Root.StructTreeRoot))


@pytest.fixture(scope="module")
def xmp(file):
    return ElementTree.fromstring(file.Root.Metadata.read_bytes())


def test_the_structure_of_the_file_has_no_fault(file):
    assert file.check_pdf_syntax() == []  # what qpdf --check reads


def test_identification_and_version_a3_6_6_4_and_6_1_2(file, xmp):
    """The file says which standard it follows, and its version allows it."""
    said = {
        name.split("}")[-1]: text
        for one in xmp.iter()
        for name, text in one.attrib.items()
        if "pdfa/ns" in name
    }
    assert said == {"part": "3", "conformance": "A"}
    assert file.pdf_version == "1.7"
    assert len(file.trailer.ID) == 2


def test_no_encryption_a3_6_1_3(file):
    """The file is not encrypted."""
    assert not file.is_encrypted
    assert "/Encrypt" not in file.trailer


def test_metadata_and_info_say_the_same_a3_6_6_3(file, xmp):
    text = {
        "Title": xmp.find(".//dc:title/rdf:Alt/rdf:li", NAMESPACES).text,
        "Producer": next(filter(None, (one.get(f"{{{NAMESPACES['pdf']}}}Producer") for one in xmp.iter()))),
        "Creator": xmp.find(".//xmp:CreatorTool", NAMESPACES).text,
    }
    assert {key.removeprefix("/"): str(value) for key, value in file.docinfo.items()} == text
    assert "/Filter" not in file.Root.Metadata or file.Root.Metadata.Filter == pikepdf.Name.FlateDecode


def test_one_output_intent_with_its_profile_a3_6_2_3(file):
    """There is one output intent, and it carries its colour profile."""
    (intent,) = file.Root.OutputIntents
    assert pikepdf.Name.GTS_PDFA1 == intent.S
    profile = intent.DestOutputProfile
    assert profile.N == 3
    assert profile.read_bytes()[12:20] == b"mntrRGB "  # ICC.1: device class and colour space


def test_colours_are_those_of_the_profile_a3_6_2_4(file):
    operators = {str(op) for page in file.pages for _, op in pikepdf.parse_content_stream(page)}
    assert operators & {"k", "K"} == set()  # DeviceCMYK needs another intent
    spaces = {str(image.ColorSpace) for image in dictionaries(file, Subtype="Image")}
    assert spaces <= {"/DeviceRGB", "/DeviceGray"}


def test_pictures_are_not_smoothed_and_name_no_other_a3_6_2_8(file):
    for image in dictionaries(file, Subtype="Image"):
        assert image.get("/Interpolate", False) == False  # noqa: E712
        assert {"/Alternates", "/OPI"} & set(image.keys()) == set()
    assert [form for form in dictionaries(file, Subtype="Form") if "/PS" in form or "/Ref" in form] == []


def test_graphics_states_are_plain_a3_6_2_5_and_6_2_10(file):
    for page in file.pages:
        for state in page.Resources.get("/ExtGState", {}).values():
            assert {"/TR", "/TR2", "/HTP", "/HTO"} & set(state.keys()) == set()
            assert state.get("/BM", pikepdf.Name.Normal) in (pikepdf.Name.Normal, pikepdf.Name.Compatible)


def test_fonts_are_embedded_mapped_and_readable_a3_6_2_11(file):
    composite = dictionaries(file, Type="Font", Subtype="Type0")
    assert len(composite) >= 3
    assert dictionaries(file, Type="Font", Subtype="Type1") == []
    assert dictionaries(file, Type="Font", Subtype="Type3") == []
    for font in composite:
        (below,) = font.DescendantFonts
        assert font.Encoding == pikepdf.Name("/Identity-H")
        assert below.CIDToGIDMap == pikepdf.Name.Identity
        assert {"/FontFile2", "/FontFile3"} & set(below.FontDescriptor.keys())
        assert re.match(r"/[A-Z]{6}\+", str(below.FontDescriptor.FontName))
        codes = re.findall(rb"<([0-9a-fA-F]{4})> <([0-9a-fA-F]{4,})>", font.ToUnicode.read_bytes())
        assert codes
        # 6.2.11.7.2: no code may stand for nothing, a byte order mark or no character.
        assert {text.lower() for _, text in codes} & {b"0000", b"feff", b"fffe"} == set()


def test_no_scripts_actions_or_other_streams_a3_6_5(file):
    """The file holds no script, no action and no foreign stream."""
    kinds = {str(thing.S) for thing in dictionaries(file, Type="Action")}
    assert kinds <= {"/URI", "/GoTo"}
    for name in ("/JavaScript", "/Launch", "/Sound", "/Movie", "/ResetForm", "/ImportData", "/Rendition"):
        assert dictionaries(file, S=name[1:]) == []
    root = file.Root
    assert {"/AA", "/OpenAction", "/AcroForm", "/OCProperties", "/Requirements", "/Perms"} & set(
        root.keys()
    ) == set()
    assert "/JavaScript" not in root.Names
    filters = {str(stream.get("/Filter")) for stream in file.objects if isinstance(stream, pikepdf.Stream)}
    assert not any("LZW" in name or "Crypt" in name for name in filters)


def test_annotations_are_links_that_print_and_say_where_to_a3_6_3_ua_7_18(file):
    links = dictionaries(file, Type="Annot")
    assert links
    for link in links:
        assert link.Subtype == pikepdf.Name.Link
        assert int(link.F) & 0b100  # printed
        assert not int(link.F) & 0b100011  # neither invisible, hidden nor without view
        assert str(link.Contents).strip()


def test_each_link_has_one_annotation_in_one_tag_ua_7_18_5(file, elements):
    parents = dict(
        zip(
            list(file.Root.StructTreeRoot.ParentTree.Nums)[::2],
            list(file.Root.StructTreeRoot.ParentTree.Nums)[1::2],
            strict=True,
        )
    )
    links = dictionaries(file, Type="Annot", Subtype="Link")
    tagged = [element for element, _ in elements if pikepdf.Name.Link == element.S]
    for link in links:
        owner = parents[link.StructParent]
        assert pikepdf.Name.Link == owner.S
        assert any(
            kid.get("/Type") == pikepdf.Name.OBJR for kid in owner.K if isinstance(kid, pikepdf.Dictionary)
        )
    assert len(tagged) == len(links)
    nested = [
        element
        for element, above in elements
        if pikepdf.Name.Link == element.S and any(a.S == element.S for a in above)
    ]
    assert nested == []


def test_attachments_are_associated_typed_and_dated_a3_6_8(file):
    listed = file.Root.Names.EmbeddedFiles.Names
    names = [str(name) for name in list(listed)[::2]]
    assert names == sorted(names) == ["results.json", "runs.csv"]
    assert {str(spec.UF) for spec in file.Root.AF} == set(names)
    for spec in list(listed)[1::2]:
        assert str(spec.F) == str(spec.UF)
        assert str(spec.AFRelationship) in {"/Source", "/Data", "/Supplement", "/Alternative", "/Unspecified"}
        assert str(spec.Desc).strip()
        stream = spec.EF.F
        assert re.fullmatch(r"/[a-z]+/[a-z.+-]+", str(stream.Subtype))
        assert int(stream.Params.Size) == len(stream.read_bytes())
        assert "/ModDate" in stream.Params


def test_it_is_marked_named_and_in_a_language_a3_6_7_ua_7_1_and_7_2(file):
    assert file.Root.MarkInfo.Marked == True  # noqa: E712
    assert "/Suspects" not in file.Root.MarkInfo
    assert str(file.Root.Lang) == "en"
    assert file.Root.ViewerPreferences.DisplayDocTitle == True  # noqa: E712
    assert all(page.Tabs == pikepdf.Name.S for page in file.pages)
    kids = file.Root.StructTreeRoot.K
    assert [str(kid.S) for kid in kids] == ["/Document"]


def test_all_content_is_tagged_or_an_artifact_a3_6_7_ua_7_1(file):
    """Nothing is painted outside marked content, and every number leads to an element of the tree."""
    painting = {"Tj", "TJ", "'", '"', "f", "F", "f*", "B", "B*", "b", "b*", "S", "s", "Do", "sh", "EI"}
    numbers = list(file.Root.StructTreeRoot.ParentTree.Nums)
    owners = dict(zip(numbers[::2], numbers[1::2], strict=True))
    known = {element.objgen for element, _ in tree(file.Root.StructTreeRoot)}
    for page in file.pages:
        open_marks, seen = [], set()
        for operands, operator in pikepdf.parse_content_stream(page):
            name = str(operator)
            if name in ("BMC", "BDC"):
                mark = str(operands[0])
                open_marks.append(mark)
                if name == "BDC" and "/MCID" in operands[1]:
                    number = int(operands[1].MCID)
                    assert number not in seen
                    seen.add(number)
                    assert owners[page.StructParents][number].objgen in known
            elif name == "EMC":
                open_marks.pop()
            elif name in painting:
                assert open_marks, f"{name} outside marked content"
        assert open_marks == []


def test_running_texts_are_artifacts_ua_7_8(file):
    kinds = [
        str(operands[1].get("/Type"))
        for page in file.pages
        for operands, operator in pikepdf.parse_content_stream(page)
        if str(operator) == "BDC" and str(operands[0]) == "/Artifact"
    ]
    # At least the page number and the digest on every page.
    assert kinds.count("/Pagination") >= 2 * len(file.pages)


def test_tags_are_standard_ones_ua_7_1(file, elements):
    standard = (
        "Document Part Sect Div P H1 H2 H3 H4 L LI Lbl LBody Table TR TH TD THead TBody TFoot Caption Span"
    )
    kinds = {str(element.S)[1:] for element, _ in elements}
    assert kinds <= {*standard.split(), "Link", "Figure", "NonStruct"}
    assert "/RoleMap" not in file.Root.StructTreeRoot


def test_every_figure_has_a_text_and_a_place_ua_7_3(elements):
    figures = [element for element, _ in elements if pikepdf.Name.Figure == element.S]
    assert len(figures) >= 8
    assert all(str(figure.Alt).strip() and len(figure.A.BBox) == 4 for figure in figures)


def test_headings_start_at_one_and_skip_no_level_ua_7_4(elements):
    levels = [int(str(element.S)[2]) for element, _ in elements if re.fullmatch(r"/H\d", str(element.S))]
    assert levels[0] == 1
    assert all(deeper - level <= 1 for level, deeper in pairwise(levels))


def test_head_cells_have_a_scope_and_cells_name_their_heads_ua_7_5(elements):
    tables = [element for element, _ in elements if pikepdf.Name.Table == element.S]
    assert len(tables) >= 4
    for table in tables:
        inside = [
            (element, above)
            for element, above in tree(table)
            if element.S in (pikepdf.Name.TH, pikepdf.Name.TD)
        ]
        heads = {
            str(cell.A.ID) if "/ID" in cell.A else str(cell.ID): cell
            for cell, _ in inside
            if pikepdf.Name.TH == cell.S
        }
        for cell, above in inside:
            group = {str(higher.S) for higher in above}
            if pikepdf.Name.TH == cell.S:
                assert str(cell.A.Scope) == ("/Column" if "/THead" in group else "/Row")
            else:
                named = [str(name) for name in cell.A.Headers]
                assert named
                assert set(named) <= heads.keys()


def test_lists_hold_items_with_bodies_ua_7_6(elements):
    for element, above in elements:
        if pikepdf.Name.LI == element.S:
            assert above[-1].S == pikepdf.Name.L
            assert pikepdf.Name.LBody in [kid.S for kid in element.K if isinstance(kid, pikepdf.Dictionary)]


def test_the_outline_leads_to_the_sections_ua_7_17(file):
    with file.open_outline() as outline:
        (top,) = outline.root
        titles = [item.title for item in top.children]
    assert [title.split(" ", 1)[0] for title in titles] == ["1", "2", "3", "4"]
    assert not any("#" in title for title in titles)
