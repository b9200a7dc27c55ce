"""Builds one imprint's scene in Blender and path-traces it.   blender -b -P scene.py -- SPEC.json OUT.png

Runs inside Blender (3.4, Cycles on the processor).  The spec's lengths are in mm, the world's axes x right, y
up, z up, and 100 mm are one of Blender's units.  photo.py writes the spec.
"""
import json
import sys

import bpy
import numpy as np
from mathutils import Matrix, Vector

UNIT = 0.01  # Blender units a mm
BUMP = 0.5  # mm, the depth of the pad's pores at full strength


def sheet(name, x, y, z, keep=None):
    """A mesh over a grid of x and y (mm, rising), heights z (mm) of shape (len(y), len(x)).

    Keep parts its cells.
    """
    columns, rows = len(x), len(y)
    ground_x, ground_y = np.meshgrid(x, y)
    points = np.stack([ground_x, ground_y, z], -1).reshape(-1, 3) * UNIT
    row, column = np.mgrid[0 : rows - 1, 0 : columns - 1]
    first = row * columns + column
    cells = np.stack([first, first + 1, first + columns + 1, first + columns], -1).reshape(-1, 4)
    if keep is not None:
        cells = cells[keep.ravel()]
    mesh = bpy.data.meshes.new(name)
    mesh.vertices.add(len(points))
    mesh.vertices.foreach_set("co", points.ravel())
    mesh.loops.add(cells.size)
    mesh.loops.foreach_set("vertex_index", cells.ravel().astype(np.int32))
    mesh.polygons.add(len(cells))
    mesh.polygons.foreach_set("loop_start", np.arange(0, cells.size, 4, dtype=np.int32))
    mesh.polygons.foreach_set("loop_total", np.full(len(cells), 4, np.int32))
    mesh.polygons.foreach_set("use_smooth", np.ones(len(cells), bool))
    across = np.stack([(ground_x - x[0]) / (x[-1] - x[0]), (ground_y - y[0]) / (y[-1] - y[0])], -1).reshape(
        -1, 2
    )
    mesh.uv_layers.new(name="picture").data.foreach_set("uv", across[cells.ravel()].ravel())
    mesh.update()
    mesh.validate()
    thing = bpy.data.objects.new(name, mesh)
    bpy.context.scene.collection.objects.link(thing)
    return thing


def material(thing, roughness, specular=0.5):
    """A new material on a thing: its nodes, its links and its surface's node."""
    made = bpy.data.materials.new(thing.name)
    made.use_nodes = True
    thing.data.materials.append(made)
    surface = made.node_tree.nodes["Principled BSDF"]
    surface.inputs["Roughness"].default_value = roughness
    surface.inputs["Specular"].default_value = specular
    return made.node_tree.nodes, made.node_tree.links, surface


def picture(nodes, links, surface, path):
    """A picture file as a surface's colour."""
    node = nodes.new("ShaderNodeTexImage")
    node.image = bpy.data.images.load(path)
    node.interpolation, node.extension = "Cubic", "EXTEND"
    links.new(node.outputs["Color"], surface.inputs["Base Color"])


def pad(spec):
    """The pad: its heights, its paint and its pores."""
    heights = np.load(spec["heights"])[::-1]  # rows from the front: y falls
    x = np.linspace(-spec["half"][0], spec["half"][0], heights.shape[1])
    y = np.linspace(-spec["half"][1], spec["half"][1], heights.shape[0])
    thing = sheet("pad", x, y, heights)
    nodes, links, surface = material(thing, spec["roughness"], spec["specular"])
    picture(nodes, links, surface, spec["paint"])
    at, pores, bump = (nodes.new(f"ShaderNode{kind}") for kind in ("TexCoord", "TexNoise", "Bump"))
    pores.inputs["Scale"].default_value, pores.inputs["Detail"].default_value = spec["pore_scale"], 3
    bump.inputs["Strength"].default_value, bump.inputs["Distance"].default_value = (
        spec["pore_strength"],
        BUMP * UNIT,
    )
    links.new(at.outputs["Object"], pores.inputs["Vector"])
    links.new(pores.outputs["Fac"], bump.inputs["Height"])
    links.new(bump.outputs["Normal"], surface.inputs["Normal"])


def card(spec):
    """The printed frame, flat or bowed, frame_z above the pad's flat surface."""
    x, y = np.arange(-132, 132.01, 2), np.arange(-96, 96.01, 2)
    middle_x, middle_y = np.meshgrid(x[:-1] + 1, y[:-1] + 1)
    keep = ~((np.abs(middle_x) < 106) & (np.abs(middle_y) < 70))
    bow = spec["bow"]
    ground_x, ground_y = np.meshgrid(x, y)
    waves = np.sin(ground_x / bow["x"] + bow["phase"]) * np.cos(ground_y / bow["y"] + bow["phase"])
    size = spec["print_scale"]
    thing = sheet("card", size * x, size * y, spec["frame_z"] + bow["height"] * (0.5 + 0.5 * waves), keep)
    nodes, links, surface = material(thing, spec["card_roughness"])
    picture(nodes, links, surface, spec["card"])
    thick = thing.modifiers.new("thickness", "SOLIDIFY")
    thick.thickness, thick.offset = 0.3 * UNIT, -1


def table(spec):
    """The table, streaked like wood."""
    bpy.ops.mesh.primitive_plane_add(size=40, location=(0, 0, -spec["pad_thickness"] * UNIT))
    nodes, links, surface = material(bpy.context.object, 0.5)
    at, stretch, streaks, mix = (
        nodes.new(f"ShaderNode{kind}") for kind in ("TexCoord", "Mapping", "TexNoise", "MixRGB")
    )
    stretch.inputs["Scale"].default_value = (1, 12, 1)
    streaks.inputs["Scale"].default_value, streaks.inputs["Detail"].default_value = 3, 8
    mix.inputs["Color1"].default_value = [*spec["table"], 1]
    mix.inputs["Color2"].default_value = [*(c * 0.5 for c in spec["table"]), 1]
    links.new(at.outputs["Object"], stretch.inputs["Vector"])
    links.new(stretch.outputs["Vector"], streaks.inputs["Vector"])
    links.new(streaks.outputs["Fac"], mix.inputs["Fac"])
    links.new(mix.outputs["Color"], surface.inputs["Base Color"])


def lights(spec):
    """The sky and the lamps, which look at the pad's middle."""
    world = bpy.data.worlds.new("sky")
    bpy.context.scene.world, world.use_nodes = world, True
    sky = world.node_tree.nodes["Background"].inputs
    sky[0].default_value, sky[1].default_value = [*spec["sky_colour"], 1], spec["sky"]
    for number, lamp in enumerate(spec["lights"]):
        data = bpy.data.lights.new(f"lamp {number}", "AREA")
        data.energy, data.size, data.color = lamp["power"], lamp["size"] * UNIT, lamp["colour"]
        thing = bpy.data.objects.new(data.name, data)
        bpy.context.scene.collection.objects.link(thing)
        thing.location = Vector(lamp["at"]) * UNIT
        thing.rotation_euler = (-thing.location).to_track_quat("-Z", "Y").to_euler()


def camera(spec):
    """The pinhole camera; the lens is put in afterwards (camera.py)."""
    data = bpy.data.cameras.new("camera")
    thing = bpy.data.objects.new("camera", data)
    bpy.context.scene.collection.objects.link(thing)
    bpy.context.scene.camera = thing
    data.sensor_fit, data.sensor_width, data.clip_start = "HORIZONTAL", 36.0, 0.01
    data.lens = spec["focal"] / spec["width"] * 36.0
    data.shift_x, data.shift_y = -spec["principal"][0], spec["principal"][1]
    data.dof.use_dof, data.dof.focus_distance, data.dof.aperture_fstop = (
        True,
        spec["focus"] * UNIT,
        spec["fstop"],
    )
    axes, place = spec["axes"], spec["place"]
    thing.matrix_world = Matrix([[*axes[r], place[r] * UNIT] for r in range(3)] + [[0, 0, 0, 1]])


def trace(spec, out):
    """Renders to a 16-bit PNG, sRGB, one stop below the scene's light so that white is not clipped."""
    scene = bpy.context.scene
    scene.render.engine = "CYCLES"
    cycles = scene.cycles
    cycles.device, cycles.samples, cycles.use_denoising = "CPU", spec["samples"], False
    cycles.use_adaptive_sampling, cycles.seed = False, spec["seed"]
    cycles.max_bounces, cycles.diffuse_bounces, cycles.glossy_bounces = 3, 2, 1
    render = scene.render
    render.resolution_x, render.resolution_y, render.resolution_percentage = spec["width"], spec["rows"], 100
    render.image_settings.file_format, render.image_settings.color_depth = "PNG", "16"
    render.image_settings.color_mode, render.image_settings.compression = "RGB", 15
    render.threads_mode, render.threads, render.filepath = "FIXED", spec["threads"], out
    scene.view_settings.view_transform, scene.view_settings.exposure = "Standard", -1.0
    bpy.ops.render.render(write_still=True)


def main():
    """Reads the spec and renders it."""
    spec_path, out = sys.argv[sys.argv.index("--") + 1 :][:2]
    with open(spec_path, encoding="utf-8") as file:
        spec = json.load(file)
    bpy.ops.wm.read_factory_settings(use_empty=True)
    for part in (pad, card, table, lights, camera):
        part(spec)
    trace(spec, out)


main()
