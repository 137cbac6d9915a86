"""A report as a PDF of two pages: the HTML page laid out on paper, with its fonts, by weasyprint."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from freecool.core.errors import FreecoolError
from freecool.show import html
from freecool.show.html import page_environment

if TYPE_CHECKING:
    from freecool.core.presentation import Presented
    from freecool.core.units import System

PRINT_INSTEAD = "or write an .html file and print it from a browser"
# The family of the pictures, as matplotlib brings it: the PDF does not rest on what a machine has.
FONTS = {"400": "font:DejaVuSans.ttf", "700": "font:DejaVuSans-Bold.ttf"}


def report_pdf(result: Presented, units: System = "ip") -> bytes:
    """A result as a PDF with its fonts embedded, given a unit system.

    Parameters
    ----------
    result : Estimate, DifferentialSweep or RulesCompared
        What to show.
    units : {"ip", "si"}, optional
        Unit system of what is shown; letter paper with the first, A4 with the other.

    Returns
    -------
    bytes
        Of a PDF file.

    Raises
    ------
    FreecoolError
        As `check_pdf`.
    """
    printer = check_pdf()
    page = (
        page_environment()
        .get_template("report.html")
        .render(page=html.report_page(result, units), paper=html.paper_of(units), fonts=FONTS)
    )

    class Within(printer.urls.URLFetcher):  # type: ignore[name-defined,misc]
        """Gives pictures that stand in the page, and the fonts; whatever else is asked for ends the work."""

        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            """What stands at an address, given it.

            Parameters
            ----------
            url : str
                Of a font or within the page.
            headers : dict, optional
                Of a request, left aside for fonts.

            Returns
            -------
            URLFetcherResponse
                As weasyprint takes it.
            """
            if url in FONTS.values():
                return printer.urls.URLFetcherResponse(url, _font(url), {"Content-Type": "font/ttf"})
            return super().fetch(url, headers)

    fetcher = Within(allowed_protocols=("data",), fail_on_errors=True)
    pdf: bytes = printer.HTML(string=page, url_fetcher=fetcher).write_pdf()
    return pdf


def check_pdf() -> Any:
    """The library that makes PDF files.

    Returns
    -------
    module
        weasyprint.

    Raises
    ------
    FreecoolError
        It is not installed, or the system's library Pango that it draws text with is not.
    """
    from PIL import ImageFile

    try:
        import weasyprint
        import weasyprint.urls
    except ModuleNotFoundError as error:
        if error.name != "weasyprint":
            raise
        raise FreecoolError(
            "A PDF needs the package weasyprint, which is not installed: pip install 'freecool[pdf]', or pip install "
            f"'.[pdf]' in a copy of the sources; {PRINT_INSTEAD}."
        ) from None
    except OSError as error:
        raise FreecoolError(
            f"A PDF needs the system's library Pango, which cannot be loaded ({str(error).splitlines()[0]}): on Debian "
            f"apt-get install libpangoft2-1.0-0; {PRINT_INSTEAD}."
        ) from None
    # weasyprint sets it for the whole process; a logo that is cut off stays refused.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    return weasyprint


def _font(address: str) -> bytes:
    import matplotlib

    return (Path(matplotlib.get_data_path()) / "fonts" / "ttf" / address.partition(":")[2]).read_bytes()
