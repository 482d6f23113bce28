from django.http import HttpRequest, HttpResponse



def questions(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("questions")


def question_new(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("question_new")


def question(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("question")


def question_to_case(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("question_to_case")
