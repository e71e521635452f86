"""The examples of the contract are executed, and every operation has one."""

import json

import pytest
from examples import EXAMPLES, FOLDER, answer_file, comparable, declared, request_file, run


@pytest.fixture(scope="module")
def answers(tmp_path_factory, office_of_all):
    return dict(run(tmp_path_factory.mktemp("examples"), office_of_all))


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_example_gives_its_answer(answers, example):
    written = json.loads(answer_file(example).read_bytes())
    assert comparable(json.loads(json.dumps(answers[example]))) == comparable(written)
    assert answers[example]["status"] in (200, 201)


def test_every_operation_has_an_example():
    contract = json.loads((FOLDER.parent / "openapi.json").read_bytes())
    published = {
        node[method]["operationId"] for node in contract["paths"].values() for method in node if method != "parameters"
    }
    assert {example.operation for example in EXAMPLES} == published


def test_no_example_is_left_over():
    wanted = {path.name for example in EXAMPLES for path in (request_file(example), answer_file(example))}
    assert {path.name for path in FOLDER.iterdir()} == wanted


def test_requests_say_what_is_executed():
    for example in EXAMPLES:
        written = json.loads(request_file(example).read_bytes())
        if example.operation == "interpret":
            assert written["sample"]["laboratory"] == "juniper-bench-demo-laboratory"
        else:
            assert written == declared(example)
