"""Latitude and longitude of geometries in any coordinate reference system."""

from services_inventory.intake.reading.table import UnreadableFile, UnusableCell

PLACE_HEADINGS = ("geometry latitude", "geometry longitude")
NO_PLACE = UnusableCell("the geometry can't be placed on the map")


class Placer:
    """Turns geometries (WKB) into latitude and longitude, EPSG:4326.

    A point gives itself; a line or an area gives its middle.
    """

    def __init__(self, crs):
        import pyproj

        try:
            source = pyproj.CRS.from_user_input(crs)
        except pyproj.exceptions.CRSError as error:
            raise UnreadableFile(
                "The coordinate reference system in the file is not known. "
                "Export it in EPSG:4326 (latitude and longitude)."
            ) from error
        self._change = None
        if source.to_epsg() != 4326 and source != pyproj.CRS("OGC:CRS84"):
            self._change = pyproj.Transformer.from_crs(source, 4326, always_xy=True)

    def places(self, geometries) -> list[list]:
        """Two columns, latitudes and longitudes; empty cells where there is no geometry."""
        import numpy
        import shapely

        shapes = shapely.from_wkb(geometries, on_invalid="ignore")
        points = shapely.centroid(shapes)
        longitudes, latitudes = shapely.get_x(points), shapely.get_y(points)
        if self._change:
            longitudes, latitudes = self._change.transform(longitudes, latitudes)
        missing = numpy.isnan(longitudes) | shapely.is_missing(shapes) | shapely.is_empty(shapes)
        lost = ~missing & ~(numpy.isfinite(longitudes) & numpy.isfinite(latitudes))
        columns = []
        for values in (latitudes, longitudes):
            cells = numpy.round(values, 8).tolist()
            for at in missing.nonzero()[0]:
                cells[at] = None
            for at in lost.nonzero()[0]:
                cells[at] = NO_PLACE
            columns.append(cells)
        return columns
