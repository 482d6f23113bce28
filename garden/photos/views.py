from django.http import HttpRequest, HttpResponse


def photo(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("photo")


def photo_thumb(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("photo_thumb")


def photo_delete(request: HttpRequest, **kw: int) -> HttpResponse:
    return HttpResponse("photo_delete")
