"""The leaves of a bundle as a stack to be put in order, drawn from the pictures that are kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from catalog.catalog import Catalog
from catalog.kept_pictures import FLAT_LONG_PX, SCREEN_LONG_PX
from catalog.leaf_pictures import open_leaf
from catalog.leaf_views import LeafView, Shown, leaf_views
from catalog.pictures import PictureStore
from catalog.records import PhotoRecord
from vision.colour_space import srgb_to_linear
from vision.leaf_image import LeafImage
from vision.shot import Laid
from vision.stack_order import StackLeaf
from vision.stack_views import StackViews


def stored_stack(catalog: Catalog, photos: Sequence[PhotoRecord]) -> Iterator[StackLeaf]:
    """Yield the leaves that ``photos`` of one bundle show, each drawn from all its photographs.

    Raises
    ------
    CatalogError
        If a picture is gone from the picture store.
    LeafNotFound
        If a leaf shows too little wood to be compared.
    """
    for views in leaf_views(photos).values():
        stack = StackViews()
        for view in views:
            stack.add(view.shot, [kept_leaf(catalog.pictures, view)])
        yield from stack.leaves()


def kept_leaf(pictures: PictureStore, view: LeafView) -> LeafImage:
    """Return a leaf as it lay in a photograph.

    Without a scale the flat picture is opened, as its pixels are the only measure of length.
    """
    in_mm = view.size.length_mm is not None
    opened = open_leaf(
        pictures,
        Shown(view, Laid.AS_LIES, face_seen=True),
        view.size,
        rows_wanted=float(SCREEN_LONG_PX if in_mm else FLAT_LONG_PX),
        in_mm=in_mm,
    )
    light = srgb_to_linear(opened.pixels)
    return LeafImage(light, opened.on_leaf, opened.px_per_mm if in_mm else None)
