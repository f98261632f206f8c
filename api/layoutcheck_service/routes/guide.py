"""GET /v1/guide and /guide: how a layout is written, for programs and for people."""

from __future__ import annotations

from fastapi import APIRouter, Response

from layoutcheck.report.guide import LayoutGuide, guide_html, layout_guide

router = APIRouter(tags=["guide"])
# The page holds no script, no style and no picture: nothing may be loaded.
_HEADERS = {"Content-Security-Policy": "default-src 'none'; base-uri 'none'; form-action 'none'"}


@router.get("/v1/guide", operation_id="getLayoutGuide", summary="How a layout is written")
def get_guide() -> LayoutGuide:
    """Answer with each part of the document: what it means, an example, what it may hold."""
    return layout_guide()


@router.get("/guide", include_in_schema=False)
def get_guide_page() -> Response:
    """Answer with the same as a page."""
    return Response(
        guide_html(layout_guide()), media_type="text/html; charset=utf-8", headers=_HEADERS
    )
