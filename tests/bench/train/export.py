"""Write a trained network as ONNX, its large tables in 16 bits: half the size, 32 bits again when it is opened."""

from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import TensorProto, helper, numpy_helper

from tests.bench.train.nets import Matcher

_LARGE = 256


def export(net: torch.nn.Module, path: Path) -> None:
    """Write ``net`` to ``path``. Sides are free; the pictures of the example differ, or the export takes their lengths
    for one."""
    net.eval().float().cpu()
    if isinstance(net, Matcher):
        example = tuple(torch.ones(*n, *size) for size in ((256, 192), (208, 256)) for n in ((1, 1), (1,)))
        names, answers = ["a", "seen_a", "b", "seen_b"], ["both", "mate_a", "mate_b", "verdict"]
        free = {"a": {2: "ha", 3: "wa"}, "seen_a": {1: "ha", 2: "wa"}, "b": {2: "hb", 3: "wb"}}
        free |= {"seen_b": {1: "hb", 2: "wb"}, "both": {1: "ca", 2: "cb"}, "mate_a": {1: "ca"}, "mate_b": {1: "cb"}}
    else:
        example, names, answers = (torch.rand(2, 1, 112, 112),), ["x"], ["vector"]
        free = {"x": {0: "n"}, "vector": {0: "n"}}
    told = {"input_names": names, "output_names": answers, "dynamic_axes": free, "opset_version": 17, "dynamo": False}
    torch.onnx.export(net, example, str(path), **told)
    model = onnx.load(path)
    _halve(model.graph)
    onnx.checker.check_model(model)
    onnx.save(model, path)


def _halve(graph: onnx.GraphProto) -> None:
    tables, casts = [], []
    for table in graph.initializer:
        values = numpy_helper.to_array(table)
        if values.dtype == np.float32 and values.size > _LARGE:
            half = f"{table.name}.half"
            tables.append(numpy_helper.from_array(values.astype(np.float16), half))
            casts.append(helper.make_node("Cast", [half], [table.name], to=TensorProto.FLOAT))
        else:
            tables.append(table)
    nodes = [*casts, *graph.node]
    del graph.initializer[:], graph.node[:]
    graph.initializer.extend(tables)
    graph.node.extend(nodes)
