"""What a figure holds: its one pair of axes, an artist by its name, all its text."""


def axes_of(figure):
    (axes,) = figure.axes
    return axes


def by_gid(axes, gid):
    (found,) = [artist for artist in axes.get_children() if artist.get_gid() == gid]
    return found


def all_text(figure):
    figure.draw_without_rendering()
    return [text.get_text() for text in figure.findobj(lambda a: hasattr(a, "get_text")) if text.get_text()]
