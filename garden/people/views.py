from django.http import HttpRequest, HttpResponse


def growers(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("growers")


def grower_new(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("grower_new")


def grower(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("grower")


def grower_edit(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("grower_edit")


def garden_new(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("garden_new")


def garden_edit(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("garden_edit")
