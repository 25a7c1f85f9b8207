"""Writes the elevation samples beside it, by GDAL with PROJ (rasterio): none of it is written by the code under test.

    python3 -m venv /tmp/venv && /tmp/venv/bin/pip install numpy rasterio
    pip download matplotlib --no-deps && unzip matplotlib-*.whl 'matplotlib/mpl-data/sample_data/jacksboro_fault_dem.npz'
    /tmp/venv/bin/python make.py matplotlib/mpl-data/sample_data/jacksboro_fault_dem.npz

Made with rasterio 1.4.4 (GDAL 3.10.3).
"""

import os
import sys
import zlib

import numpy as np
import rasterio
from rasterio.transform import Affine
from rasterio.warp import Resampling, reproject

HERE = os.path.dirname(os.path.abspath(__file__))
STEP = 1 / 1200
# Part of the sample: rows and columns from its north-west corner.
TOP, LEFT, ROWS, COLUMNS = 64, 200, 80, 100
NODATA = -32768


def path(name):
    return os.path.join(HERE, name)


def write(name, heights, west, north, crs="EPSG:4326", step=STEP, nodata=NODATA, point=False, overviews=False, tags=None, **options):
    """One band, its north-west corner at a place."""
    options = {"driver": "GTiff", **options}
    rows, columns = heights.shape
    with rasterio.open(
        path(name), "w", width=columns, height=rows, count=1, dtype=heights.dtype, crs=crs, nodata=nodata,
        transform=Affine(step, 0, west, 0, -step, north), **options,
    ) as out:
        if point:
            out.update_tags(AREA_OR_POINT="Point")
        for key, value in (tags or {}).items():
            setattr(out, key, value)
        out.write(heights, 1)
    if overviews:
        with rasterio.open(path(name), "r+") as out:
            out.build_overviews([2, 4], Resampling.average)


def bilinear(name, lon, lat):
    """GDAL's bilinear height at a place on WGS 84: the middle of a grid of one tiny cell."""
    size = 1e-9
    cell = np.full((1, 1), np.nan)
    with rasterio.open(path(name)) as source:
        reproject(
            rasterio.band(source, 1), cell, dst_crs="EPSG:4326", dst_nodata=np.nan, resampling=Resampling.bilinear,
            dst_transform=Affine(size, 0, lon - size / 2, 0, -size, lat + size / 2), tolerance=0, XSCALE=1, YSCALE=1,
        )
    return float(cell[0, 0])


def main(sample):
    data = np.load(sample)
    heights = data["elevation"][TOP:TOP + ROWS, LEFT:LEFT + COLUMNS].astype("int16")
    # The edges of the sample as it states them; its names for north and south are swapped.
    west, north = float(data["xmin"]) + LEFT * STEP, float(data["ymin"]) - TOP * STEP

    # A tile of a degree, void but for the part: a sample of the tile lies in the middle of a cell.
    tile = np.full((1201, 1201), NODATA, "int16")
    column, row = round((west + STEP / 2 + 85) / STEP), round((37 - (north - STEP / 2)) / STEP)
    tile[row:row + ROWS, column:column + COLUMNS] = heights
    write("N36W085.hgt", tile, -85 - STEP / 2, 37 + STEP / 2, driver="SRTMHGT")
    with open(path("N36W085.hgt"), "rb") as whole, open(path("N36W085.hgt.z"), "wb") as packed:
        packed.write(zlib.compress(whole.read(), 9))
    os.remove(path("N36W085.hgt"))

    tiles = {"tiled": True, "blockxsize": 32, "blockysize": 32}
    write("strips.tif", heights, west, north)
    write("tiles-deflate.tif", heights.astype("float32"), west, north, compress="deflate", predictor=3, overviews=True, **tiles)
    write("tiles-lzw-point.tif", heights, west, north, point=True, compress="lzw", predictor=2, **tiles)
    write("big-endian.tif", heights.astype("int32"), west, north, BIGTIFF="YES", ENDIANNESS="BIG", compress="deflate", predictor=2, crs="EPSG:4269")
    write("double.tif", heights.astype("float64"), west, north, nodata=float("nan"))
    write("unsigned.tif", heights.astype("uint16"), west, north, nodata=65535)
    write("scaled.tif", (heights.astype("int32") * 4 - 400).astype("int16"), west, north, tags={"scales": (0.25,), "offsets": (100.0,)})
    write("degrees.asc", heights, west, north, driver="AAIGrid")
    for extra in ("degrees.prj", "degrees.asc.aux.xml", "N36W085.hgt.aux.xml"):
        if os.path.exists(path(extra)):
            os.remove(path(extra))

    # Four parts without overlap, their seams through the site.
    cut_row, cut_column = 42, 53
    for name, rows, columns in (
        ("part-nw.tif", slice(0, cut_row), slice(0, cut_column)), ("part-ne.tif", slice(0, cut_row), slice(cut_column, None)),
        ("part-sw.tif", slice(cut_row, None), slice(0, cut_column)), ("part-se.tif", slice(cut_row, None), slice(cut_column, None)),
    ):
        write(name, heights[rows, columns], west + (columns.start or 0) * STEP, north - (rows.start or 0) * STEP, compress="deflate")

    # Voids near the middle.
    holed = heights.copy()
    holed[40:44, 56:59] = NODATA
    holed[36, 50] = NODATA
    write("voids.tif", holed, west, north, compress="deflate")

    # On a projection in metres, and on one in American feet with heights in feet.
    for name, crs, step, unit in (("utm.tif", "EPSG:32616", 20.0, 1.0), ("feet.tif", "EPSG:2274+6360", 100.0, 3937 / 1200)):
        flat = crs.split("+")[0]
        edges = rasterio.warp.transform_bounds("EPSG:4326", flat, west, north - ROWS * STEP, west + COLUMNS * STEP, north)
        middle = [(edges[0] + edges[2]) / 2, (edges[1] + edges[3]) / 2]
        half = 1700 * (1.0 if unit == 1 else unit)
        left, top = np.floor((middle[0] - half) / step) * step, np.ceil((middle[1] + half) / step) * step
        count = int(np.ceil(2 * half / step))
        out = np.full((count, count), np.nan, "float32")
        reproject(
            heights.astype("float64"), out, src_transform=Affine(STEP, 0, west, 0, -STEP, north), src_crs="EPSG:4326",
            dst_transform=Affine(step, 0, left, 0, -step, top), dst_crs=flat, dst_nodata=np.nan, resampling=Resampling.bilinear,
            tolerance=0,
        )
        out = (out.round(1) * unit).astype("float32")
        write(name, out, left, top, crs=crs, step=step, nodata=-9999, compress="deflate", predictor=3)

    # A dozen places within the site, with the heights that GDAL reads there: of the sample, on a sample itself, and of the projected file.
    lines = ["# longitude_deg, latitude_deg, height_m (strips.tif), height_m (utm.tif), height_m (feet.tif)"]
    rng = np.random.default_rng(7)
    for index in range(16):
        lon = west + (COLUMNS / 2 + rng.uniform(-11, 11)) * STEP
        lat = north - (ROWS / 2 + rng.uniform(-9, 9)) * STEP
        if index < 4:
            lon = west + (np.floor((lon - west) / STEP) + 0.5) * STEP
            lat = north - (np.floor((north - lat) / STEP) + 0.5) * STEP
        metres = bilinear("feet.tif", lon, lat) * 1200 / 3937
        lines.append(
            f"{lon:.9f}, {lat:.9f}, {bilinear('strips.tif', lon, lat):.4f}, {bilinear('utm.tif', lon, lat):.4f}, {metres:.4f}"
        )
        if index < 4:
            with rasterio.open(path("strips.tif")) as strips:
                assert abs(next(strips.sample([(lon, lat)]))[0] - bilinear("strips.tif", lon, lat)) < 1e-3
    with open(path("heights.csv"), "w") as out:
        out.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
