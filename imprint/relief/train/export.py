"""Writes a net as ONNX (opset 11, which OpenCV 4.6 reads), small; and reads one back, to go on from its
weights.

The numbers of fields are those of onnx.proto: a model's graph is 7, a graph's initializer 5; of a tensor
data_type is 2 (1 float, 10 half), name 8, raw_data 9."""
import copy

import numpy as np
import torch
import torch.nn as nn
from torch.nn.utils.fusion import fuse_conv_bn_eval

from grid import device


class ForPhotos(nn.Module):
    """The net as it is exported, for so many photos of one imprint."""

    def __init__(self, net, photos):
        super().__init__()
        self.net, self.photos = net, photos

    def forward(self, t):
        return self.net(t, self.photos)


def fused(net):
    """The net with each normalisation in the convolution before it, which leaves every weight a name of its
    own."""
    net = copy.deepcopy(net)
    for module in net.modules():
        if isinstance(module, nn.Sequential):
            for i in range(len(module) - 1):
                if isinstance(module[i], nn.Conv2d) and isinstance(module[i + 1], nn.BatchNorm2d):
                    module[i], module[i + 1] = fuse_conv_bn_eval(module[i], module[i + 1]), nn.Identity()
    return net


def export(net, folder, tag, inputs, photos):
    """TAG.onnx reads one photo; with several, TAG-together.onnx so many of one imprint, by the same
    weights.  Nets for several photos are stored small: the weights as halves, and in TAG.onnx alone."""
    options = {"dynamo": False} if torch.__version__ >= "2" else {}
    for n, name in [(1, tag)] + ([(photos, tag + "-together")] if photos > 1 else []):
        path = f"{folder}/{name}.onnx"
        example = torch.zeros(n, inputs, 64, 104, device=device)
        torch.onnx.export(
            ForPhotos(net, n),
            example,
            path,
            opset_version=11,
            input_names=["x"],
            output_names=["y"],
            **options,
        )
        if photos > 1:
            store_small(path, n == 1)


def store_small(path, weights):
    """Rewrites an ONNX file with its weights as halves, or without their values, which the tool fills in."""

    def tensor(message):
        keep, raw = b"", b""
        for number, whole, payload in fields(message):
            if number == 9:
                raw = np.frombuffer(payload, "<f4").astype("<f2").tobytes()
            elif number != 2:
                keep += whole
        return keep + b"\x10\x0a" + (chunk(9, raw) if weights else b"")

    def graph(message):
        return b"".join(chunk(5, tensor(p)) if number == 5 else whole for number, whole, p in fields(message))

    model = open(path, "rb").read()
    with open(path, "wb") as f:
        f.write(b"".join(chunk(7, graph(p)) if number == 7 else whole for number, whole, p in fields(model)))


def stored_weights(path):
    """The weights of an ONNX file by name, as flat float32 arrays, be they stored as floats or as halves."""
    weights = {}
    for number, _, graph in fields(open(path, "rb").read()):
        for inner, _, tensor in fields(graph) if number == 7 else ():
            if inner == 5:
                parts = {n: (whole, payload) for n, whole, payload in fields(tensor)}
                half = parts[2][0][-1] == 10
                weights[parts[8][1].decode()] = np.frombuffer(parts[9][1], "<f2" if half else "<f4").astype(
                    "float32"
                )
    return weights


# names of modules in files exported before they had names of their own
_FORMER = dict(d="down", m="middle", u="up", fd="fine_down", fu="fine_up", x="exchange", o="head")
_FORMER.update(b="block", g="gate", c="mix")
OPEN_GATE = 3.0  # before the sigmoid: a gate that lets nearly all pass


def named_weights(net, path):
    """An exported file's weights by the net's own names.  In the oldest files a convolution that is
    normalised has no name; they stand there in the order in which the net runs, which is that of its
    modules."""
    stored, unnamed = {}, []
    for name, values in stored_weights(path).items():
        if "::" in name:
            unnamed.append(values)
        else:
            stored[
                ".".join(_FORMER.get(part, part) for part in name.removeprefix("net.").split("."))
            ] = values
    blocks = [(name, m) for name, m in net.named_modules() if isinstance(m, nn.Sequential)]
    convs = [
        f"{name}.{i}" for name, m in blocks for i in range(len(m) - 1) if isinstance(m[i + 1], nn.BatchNorm2d)
    ]
    if unnamed:
        stored.update(zip([f"{conv}.{kind}" for conv in convs for kind in ("weight", "bias")], unnamed))
    return stored


def start_from(net, path, inputs):
    """Gives a net the weights of an exported one of its shape, and its normalisations, which an export has
    lost, what leaves them without effect on inputs (N, c, 64, 104) to begin with.  What the file lacks does
    next to nothing to begin with: exchanges stay at zero, gates stand open."""
    stored = named_weights(net, path)
    normalised = [name for name, module in net.named_modules() if isinstance(module, nn.BatchNorm2d)]
    for name, parameter in net.named_parameters():
        if name in stored:
            parameter.data.copy_(torch.tensor(stored.pop(name)).view_as(parameter))
        elif "gate.2" in name:
            parameter.data.fill_(OPEN_GATE if name.endswith("bias") else 0)
        elif name.rpartition(".")[0] not in normalised and "exchange" not in name and "gate" not in name:
            raise ValueError(f"{path} has no {name}")
    if stored:
        raise ValueError(f"{path} has what the net lacks: {sorted(stored)}")

    def neutral(norm, given):
        mean, var = given[0].float().mean((0, 2, 3)), given[0].float().var((0, 2, 3), unbiased=False)
        norm.running_mean.copy_(mean)
        norm.running_var.copy_(var)
        norm.bias.data.copy_(mean)
        norm.weight.data.copy_(torch.sqrt(var + norm.eps))

    hooks = [m.register_forward_pre_hook(neutral) for m in net.modules() if isinstance(m, nn.BatchNorm2d)]
    with torch.no_grad():
        net.eval()(inputs)
    for hook in hooks:
        hook.remove()
    net.train()


def varint(message, i):
    value = shift = 0
    while True:
        value, shift, i = value | (message[i] & 127) << shift, shift + 7, i + 1
        if message[i - 1] < 128:
            return value, i


def fields(message):
    """The fields of a protocol buffer's message: number, the whole field, its payload where it has a
    length."""
    i = 0
    while i < len(message):
        start = i
        key, i = varint(message, i)
        if key & 7 == 2:
            n, i = varint(message, i)
            i += n
            yield key >> 3, message[start:i], message[i - n : i]
        elif key & 7 == 0:
            _, i = varint(message, i)
            yield key >> 3, message[start:i], b""
        else:
            raise ValueError("a field of this kind is not expected in an exported model")


def chunk(number, payload):
    head, n = bytes([number << 3 | 2]), len(payload)
    while n > 127:
        head, n = head + bytes([n & 127 | 128]), n >> 7
    return head + bytes([n]) + payload
