package web

import "net/http"

type homePage struct{ Page }

var homeView = declare[homePage]("home")

func (s *Server) routesHome(mux *http.ServeMux) {
	mux.Handle("GET /{$}", s.do(s.home))
}

func (s *Server) home(w http.ResponseWriter, r *http.Request) error {
	return homeView.show(s, w, r, homePage{s.page(r, "Cases")})
}
